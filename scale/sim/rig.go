package sim

import (
	"time"

	"tared/protocol"
)

// What only studies and tests of several packages use: more scales, potters and
// powders than the demo has. It is the rig that the check for unreachable code
// leaves out.

// Of makes a model for a study: step in grams, lag, and everything else in
// proportion to the step. noise is the standard deviation in steps.
func Of(step protocol.Mass, lag time.Duration, noise float64) Model {
	places := step.Places()
	coef := uint64(step)
	for i := places; i < 9; i++ {
		coef /= 10
	}
	g := float64(step) / float64(protocol.Gram)
	return Model{
		Name: "of " + step.String(), Max: step * 30000,
		Units: []UnitSteps{grams(coef, uint8(places))},
		Lag:   lag, Noise: noise * g, Rest: time.Second,
	}
}

// Hurried has practice and little time.
func Hurried() Potter {
	return Potter{Name: "hurried", Reaction: 0.18, Spread: 0.03, Haste: 1.8, Cut: 0.10, Jitter: 0.12, Aim: 0.14, Lean: 6, Handle: 0.5, Think: 0.6}
}

// Distracted looks away now and then.
func Distracted() Potter {
	return Potter{Name: "distracted", Reaction: 0.38, Spread: 0.08, Haste: 1, Cut: 0.10, Jitter: 0.10, Aim: 0.12, Lapses: 0.05, Lapse: 0.9, Lean: 4, Handle: 1.1, Think: 3}
}

// Trembling has an unsteady hand.
func Trembling() Potter {
	return Potter{Name: "trembling", Reaction: 0.30, Spread: 0.06, Haste: 0.8, Cut: 0.16, Jitter: 0.30, Aim: 0.12, Lean: 8, Handle: 1.3, Think: 1.8}
}

// Potters gives all of them.
func Potters() []Potter { return []Potter{Steady(), Hurried(), Distracted(), Trembling()} }

// Materials gives all of them.
func Materials() []Material { return []Material{Free(), Sticky(), Lumpy()} }

// Saw tells the potter that other hands did something.
func (a *Auto) Saw(now time.Time, x Action) { a.did(now, x) }
