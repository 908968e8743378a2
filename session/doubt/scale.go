package doubt

import (
	"cmp"
	"math/big"

	"tared/protocol"
	"tared/scale"
)

// Gauge is what is known of a scale as an instrument, beside its step and its repeatability.
type Gauge struct {
	// Placings is from how many placings it comes; 0: somebody says it, and it is taken as sure.
	Placings uint64        `json:"placings,omitempty"`
	Class    string        `json:"class,omitempty"`       // accuracy class; empty: none is known
	Interval protocol.Mass `json:"interval,omitzero"`     // verification scale interval e; 0: the step
	Check    Check         `json:"known_weight,omitzero"` // the last known weight that was put on; zero: none
}

// Check is what a scale showed of a known weight.
type Check struct {
	Mass      protocol.Mass `json:"mass"`      // of the weight, as it is marked
	Deviation protocol.Mass `json:"deviation"` // shown less mass
	Allowed   protocol.Mass `json:"allowed"`   // either way
	Failed    bool          `json:"failed,omitempty"`
}

// Scale is an instrument as far as its doubt goes.
type Scale struct {
	Step   protocol.Mass // d
	Spread protocol.Mass // s of one net weight
	// Measured says that s was measured, also where it came out as nothing.
	Measured bool
	Gauge
}

// E is the verification scale interval: the step where none is said.
func (s Scale) E() protocol.Mass { return cmp.Or(s.Interval, s.Step) }

// Assumed reports whether s was not measured: half a step is assumed then (common
// practice, no source).
func (s Scale) Assumed() bool { return s.Spread == 0 && !s.Measured }

// Reading gives U² of one net weight without the span, in squared units of a mass:
//
//	4·(d²/6 + (h·s)²)
//
// The first term is two roundings of d/(2√3) each, half the width of a step evenly spread
// (JCGM 100:2008, 4.3.7; the same in EURAMET cg-18 v4, from memory, and in the R package
// masscor). h is half of Student's t for the placings that s comes from, 1 where it is sure.
func (s Scale) Reading() *big.Rat {
	v := square(s.Step)
	if s.Assumed() {
		return v.Mul(v, big.NewRat(5, 3)) // s = d/2
	}
	t := student(s.Placings)
	v.Mul(v, big.NewRat(2, 3))
	return v.Add(v, t.Mul(t, t).Mul(t, square(s.Spread)))
}

// Span gives the part of U that all weighings on the scale have in common: by how much its
// span may be wrong at this net weight. Its class bounds it, 2/√3 of the maximum
// permissible error in service, evenly spread; and so does a known weight that was put on,
// by what it showed wrong, and by the doubt of that weight and of its reading, in
// proportion. The smaller counts, a check that failed alone. 0: nobody knows.
func (s Scale) Span(net protocol.Mass) protocol.Mass {
	byCheck, checked := s.spanByCheck(net)
	if s.Check.Failed && checked {
		return byCheck
	}
	byClass, classed := s.spanByClass(net)
	switch {
	case checked && classed:
		return min(byCheck, byClass)
	case checked:
		return byCheck
	}
	return byClass
}

// Vouched reports whether anything is known of the span.
func (g Gauge) Vouched() bool { return g.Class != "" || g.Check.Mass > 0 }

func (s Scale) spanByClass(net protocol.Mass) (protocol.Mass, bool) {
	c, err := scale.ParseClass(s.Class)
	if err != nil || s.E() <= 0 {
		return 0, false
	}
	a, err := scale.InUse(c, s.E(), net)
	if err != nil {
		return 0, false
	}
	return RootUp(a.Mul(a, a).Mul(a, big.NewRat(4, 3))), true
}

// weightShare is what the known weight itself may be wrong by, of what the scale is
// allowed: a third (OIML R 76-1:2006, 3.7.1).
var weightShare = big.NewRat(1, 3)

func (s Scale) spanByCheck(net protocol.Mass) (protocol.Mass, bool) {
	c := s.Check
	if c.Mass <= 0 {
		return 0, false
	}
	w := rat(c.Allowed)
	w.Mul(w, weightShare)
	reading := s.Reading()
	open := RootUp(reading.Add(reading, w.Mul(w, w).Mul(w, big.NewRat(4, 3))))
	at := rat(c.Deviation.Abs() + open)
	return up(at.Mul(at, new(big.Rat).SetFrac64(int64(net.Abs()), int64(c.Mass)))), true
}

// U gives the expanded uncertainty of one net weight: √(Reading + Span²), rounded up.
func (s Scale) U(net protocol.Mass) protocol.Mass { return s.With(s.Reading(), net) }

// With is U where another U² than that of the reading stands beside the span.
func (s Scale) With(own *big.Rat, net protocol.Mass) protocol.Mass {
	return RootUp(new(big.Rat).Add(own, square(s.Span(net))))
}

// students holds Student's t in hundredths for 95.45 %, by degrees of freedom from 1: JCGM
// 100:2008, Table G.2 (from memory, and worked out again in a test).
var students = []int64{1397, 453, 331, 287, 265, 252, 243, 237, 232, 228, 225, 223, 221, 220, 218, 217, 216, 215, 214, 213}

// student gives it for so many placings; 2 where they are sure. Above twenty degrees of
// freedom that of twenty serves, which is more.
func student(placings uint64) *big.Rat {
	switch {
	case placings == 0:
		return big.NewRat(2, 1)
	case placings == 1:
		placings = 2
	}
	return big.NewRat(students[min(placings-1, uint64(len(students)))-1], 100)
}
