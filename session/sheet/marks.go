package sheet

import (
	"tared/protocol"
	"tared/session/doubt"
)

// Marks gives the band as a scale of this step can show it: the lowest and the
// highest readings that still lie in it. Rounding to the nearest would show a
// mark that is outside: 7.84 g is not reached by a scale that shows 7.8. Where no
// reading lies in the band it gives the band itself, and where the only one is further
// from the target than is allowed, what is allowed. It is for showing; what counts are
// the exact masses.
func Marks(low, high, step, target, allowed protocol.Mass) (protocol.Mass, protocol.Mass) {
	up, down, ok := Readings(low, high, step)
	switch {
	case !ok:
		return low, high
	case step > 0 && up == down && allowed > 0 && (up-target).Abs() > allowed:
		return target - allowed, target + allowed
	}
	return up, down
}

// Readings gives the lowest and the highest reading of a scale between two masses; false
// where there is none.
func Readings(low, high, step protocol.Mass) (l, h protocol.Mass, ok bool) {
	if step <= 0 {
		return low, high, true
	}
	up, down := low-low%step, high-high%step
	if up < low {
		up += step
	}
	if down > high {
		down -= step
	}
	return up, down, up <= down
}

// Accepted gives the lowest and the highest reading of a scale that a rule accepts where so
// much is allowed and the weight will have this U: within what is allowed or, guarded, so far
// within that all of its U is. Where U leaves too much open for that, it gives the readings within the
// band in whole steps of which the rule does not say that they are over or under.
func Accepted(rule doubt.Rule, target, allowed, u, step protocol.Mass) (low, high protocol.Mass) {
	room := allowed
	if rule == doubt.Guarded {
		room -= u
	}
	low, high, ok := Readings(target-room, target+room, step)
	if !ok || u > allowed {
		room = min(Band(allowed, step), allowed+u)
		low, high, _ = Readings(target-room, target+room, step)
	}
	return low, high
}

// marksShown are the marks of what is weighed by itself, as Marks has them.
func (l Line) marksShown() (low, high protocol.Mass) {
	own := l.Target - l.Less
	low, high = l.Low-l.Less, l.High-l.Less
	if l.Aliquot != nil { // no scale shows it: the band is that of what the part contains
		return low, high
	}
	if l.Step > 0 {
		low, high = Accepted(l.Rule, own, l.Allowed, doubt.Together(l.U, l.LessU), l.Step)
		low = max(low, l.Step) // an empty container is not in the band
	}
	return Marks(low, high, l.Step, own, l.Allowed)
}

// AcceptBy says by what rule all weights of the sheet are accepted.
func (s *Sheet) AcceptBy(rule doubt.Rule) {
	for i := range s.Lines {
		s.Lines[i].Rule = rule
	}
	if s.Water != nil {
		s.Water.Rule = rule
	}
	for i := range s.Cups {
		c := &s.Cups[i]
		c.Take.Rule = rule
		for k := range c.Lines {
			c.Lines[k].Rule = rule
		}
		if c.Water != nil {
			c.Water.Rule = rule
		}
	}
}
