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
	for i := places; i < protocol.GramPlaces; i++ {
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

// Quiet is a model that shows what lies on its pan, soon and without noise, so that
// a scripted scene comes out the same each time.
func Quiet(m Model) Model {
	m.Lag, m.Noise, m.Draught, m.Rest = 60*time.Millisecond, 0, 0, 600*time.Millisecond
	return m
}

// Exchange puts the vessel of a scale away, with what is in it, and takes another
// one into the hand: an empty one of so many grams.
func (w *World) Exchange(scale string, empty float64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p := w.find(scale); p != nil && !p.on {
		p.vessel = &Vessel{Name: p.vessel.Name, Empty: empty}
	}
}

// TipBut tips the vessel in the hand into the bucket all but so many grams.
func (w *World) TipBut(scale string, grams float64) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p := w.find(scale); p != nil && !p.on {
		p.vessel.pourInto(&w.bucket, grams)
	}
}

// Clear throws what is in the vessel away.
func (w *World) Clear(scale string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p := w.find(scale); p != nil {
		p.vessel.pourInto(&w.waste, 0)
	}
}

// KeyAtOnce presses the tare key or the zero key of a scale that does not wait for
// rest: what lies there in this moment is taken.
func (w *World) KeyAtOnce(scale string, at time.Time, key Verb) {
	w.mu.Lock()
	defer w.mu.Unlock()
	p := w.find(scale)
	if p == nil {
		return
	}
	s := p.scale
	s.advance(at)
	if key == ZeroKey {
		s.zero, s.tare = s.y, 0
	} else {
		s.tare = s.y - s.zero
	}
	s.freshN = s.n
	s.show()
}

// Holds gives what is in the vessel of a scale, of one material.
func (w *World) Holds(scale, material string) float64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p := w.find(scale); p != nil {
		return p.vessel.Of(material)
	}
	return 0
}
