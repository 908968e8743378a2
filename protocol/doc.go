// Package protocol turns the bytes of a scale into readings.
//
// The words, in the order in which bytes meet them:
//
//   - a frame is one message of an instrument: a line with or without its
//     terminator, or a block of bytes that must be counted;
//   - a Format knows how one family of instruments frames and writes a
//     weight. One file holds one format, and All lists every one of them;
//   - a Reading is what a frame said: the digits as shown (Decimal), the unit,
//     whether the instrument calls itself stable, and a Status;
//   - a Mass is an exact amount, in nanograms, made from digits and unit.
//
// A frame is refused in two ways. ErrForeign: this is not my format at all.
// ErrDamaged: it is mine, but cut, corrupted or impossible. Neither ever
// becomes a weight, for a wrong weight is worse than none.
//
// Start with Reading, then Format, then any one format file. The package uses
// the standard library only and knows nothing of ports or recipes.
package protocol
