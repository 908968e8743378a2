package pan

import "tared/protocol"

// face is how a scale writes its weights. Cables that were swapped show by it, and so do
// settings that were changed.
type face struct {
	format string        // empty: not known
	unit   protocol.Unit // the same
	step   protocol.Mass
	places int // digits after the point; less than zero: not known
}

func (f face) fits(g face) bool {
	return (f.format == "" || g.format == "" || f.format == g.format) && (f.unit == "" || g.unit == "" || f.unit == g.unit) &&
		f.step == g.step && (f.places < 0 || g.places < 0 || f.places == g.places)
}

// faces are those that a scale has shown: a range changes with the load, and a unit by a
// key, with no silence before.
type faces struct {
	all [4]face
	n   int
}

func (f *faces) fits(g face) bool {
	for _, h := range f.all[:min(f.n, len(f.all))] {
		if h.fits(g) {
			return true
		}
	}
	return f.n == 0
}

func (f *faces) add(g face) {
	if f.n == 0 || !f.fits(g) {
		f.all[f.n%len(f.all)] = g
		f.n++
	}
}

// Other is a scale that speaks in place of the one that was here.
type Other struct {
	Is    bool // it does
	Shown protocol.Decimal
	Unit  protocol.Unit
}
