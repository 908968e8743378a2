// Package sim is a scale made of arithmetic and seeds, and the hands of the
// potter who stands at it. Demo, tests and studies run the real port, the real
// parser and the real bench against it: what it hands over is bytes.
//
// The words, from the pan to the wire:
//
//   - a Model is what a scale is built like: capacity, steps, lag, noise; a
//     Scale is one such scale with what lies on its pan now. Scale.At gives
//     what its display shows at a time, a Shown;
//   - a Vessel is a container with what is in it; a Flow is powder running
//     into whatever stands on the pan;
//   - a World holds several scales with one Vessel each, the bucket, and the
//     queue of Actions that hands have in mind;
//   - Encode turns a Shown into the bytes of a line format, and a Line speaks
//     them through a pseudo-terminal (or a pipe inside the program);
//   - Hands turns the word on a demo button into Actions; Auto is a potter who
//     reads the Guidance of a bench and acts on it with a human's delay; a
//     Runner lets an Auto work in a World;
//   - a Potter and a Material say how hands move and how powder runs;
//   - a Clock runs faster than the wall, so that a demo need not last as long as
//     a batch.
//
// The physics knows no clock: time is passed in, and a Scale moves in ticks of a
// hundredth of a second that do not depend on when it is asked. The same seed
// and the same actions give the same displays.
//
// Weights in here are float64 grams, for this is the world and not the record:
// what leaves the package is digits as a display would round them.
//
// Start with Scale, then World, then Auto.
package sim
