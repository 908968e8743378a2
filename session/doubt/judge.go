package doubt

import "tared/protocol"

// Verdict is what may be said of a weight and a band.
type Verdict string

// The verdicts.
const (
	Under  Verdict = "under"
	In     Verdict = "in"
	Over   Verdict = "over"
	Cannot Verdict = "cannot-tell"
)

// Rule is by what a weight is accepted, in the words of JCGM 106:2012. The zero value is
// that of records which name none: the marks of the page are the band, whatever U is.
type Rule string

// The rules.
const (
	// Simple accepts by the weight alone (JCGM 106:2012, 8.2), where U is no more than what
	// is allowed; where U is more, only the whole interval decides. It is the usual one: a
	// band is a habit of the trade, to be over it harms no more than to be under it, and a
	// hand that is told "in" by the mark must find that in the record.
	Simple Rule = "simple"
	// Guarded accepts only where the whole interval, weight ± U, lies in the band (JCGM
	// 106:2012, 8.3, with a guard band of U).
	Guarded Rule = "guarded"
)

// Judge holds what was delivered, with its U, against a target and what is allowed either
// way. The comparison is exact. All of the interval in the band is in, all of it outside is
// under or over; what is between is as the rule says.
func (r Rule) Judge(delivered, u, target, allowed protocol.Mass) Verdict {
	off := delivered - target
	beyond, side := off.Abs()-allowed, Over
	if off < 0 {
		side = Under
	}
	switch {
	case beyond <= -u:
		return In
	case beyond > u:
		return side
	case r == Guarded, u > allowed:
		return Cannot
	case beyond > 0:
		return side
	}
	return In
}

// Sure reports whether the whole interval lies in the band.
func Sure(delivered, u, target, allowed protocol.Mass) bool {
	return (delivered-target).Abs()+u <= allowed
}

// Shown reports whether a scale can show a target at all: it is at least half a step, and
// U is not more than it.
func Shown(target, step, u protocol.Mass) bool { return 2*target >= step && u <= target }
