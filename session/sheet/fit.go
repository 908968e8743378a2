package sheet

import (
	"math/big"

	"tared/protocol"
	"tared/session/doubt"
)

// Weighs is the scale as far as its doubt goes.
func (s Scale) Weighs() doubt.Scale {
	return doubt.Scale{Step: s.Step, Spread: s.Spread, Measured: s.Measured, Gauge: s.Gauge}
}

// measured is a scale with what follows from its step once for all targets.
type measured struct {
	Scale
	u protocol.Mass // expanded uncertainty of one net weight, without the span of the scale
	// room is what it holds beside the container, where limited.
	room    protocol.Mass
	limited bool
}

// fit is how a scale would do for a target.
func (s measured) fit(target, allowed protocol.Mass) Fit {
	n := portions(target, s.room, s.limited)
	u := s.of(target, n)
	return Fit{Scale: s.Name, Verdict: Judge(allowed, s.Step, u), U: u, Room: n == 1, Portions: n}
}

// of gives U of a target that is weighed in so many equal portions: what each has for itself
// averages out, what the span of the scale does to them adds up.
func (s measured) of(target protocol.Mass, portions int) protocol.Mass {
	if portions == 1 && !s.Vouched() {
		return s.u
	}
	n := int64(portions)
	own := s.Weighs().Reading()
	span := s.Weighs().Span(target/protocol.Mass(n)) * protocol.Mass(n)
	return doubt.RootUp(own.Mul(own, big.NewRat(n, 1)).Add(own, new(big.Rat).SetInt(doubt.AddSquare(nil, span))))
}

// choose picks the scale for a target: the first in the user's order that is
// good and takes it in one weighing; else the good one with the fewest
// portions; else, of those that take it in one weighing or, failing that, in
// portions, the one with the smallest U. -1 when every one would need more than
// 20 portions.
func choose(fits []Fit) int {
	best := -1
	for i, f := range fits {
		if f.Portions > maxPortions {
			continue
		}
		if f.Verdict == Good && f.Room {
			return i
		}
		if best < 0 || better(f, fits[best]) {
			best = i
		}
	}
	return best
}

func better(a, b Fit) bool {
	if ga, gb := a.Verdict == Good, b.Verdict == Good; ga || gb {
		return ga && (!gb || a.Portions < b.Portions)
	}
	if a.Room != b.Room {
		return a.Room
	}
	return a.U < b.U
}

// use puts a line on a scale.
func (l *Line) use(s Scale, f Fit) {
	l.Scale, l.Step, l.Unit, l.Verdict, l.U, l.Portions, l.Assumed = s.Name, s.Step, s.Unit, f.Verdict, f.U, f.Portions, s.Weighs().Assumed()
	l.Hidden = !doubt.Shown(l.Target, l.Step, l.U)
	l.marks()
}

// marks sets the band and the marks. The low mark is never at or under nothing,
// or an empty container would be in the band.
func (l *Line) marks() {
	l.Band = Band(l.Allowed, l.Step)
	l.Low, l.High = max(l.Target-l.Band, protocol.Picogram), l.Target+l.Band
}
