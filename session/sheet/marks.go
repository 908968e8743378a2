package sheet

import "tared/protocol"

// Marks gives the band as a scale of this step can show it: the lowest and the
// highest readings that still lie in it. Rounding to the nearest would show a
// mark that is outside: 7.84 g is not reached by a scale that shows 7.8. Where no
// reading lies in the band it gives the band itself, and where the only one is further
// from the target than is allowed, what is allowed. It is for showing; what counts are
// the exact masses.
func Marks(low, high, step, target, allowed protocol.Mass) (protocol.Mass, protocol.Mass) {
	if step <= 0 {
		return low, high
	}
	up, down := low-low%step, high-high%step
	if up < low {
		up += step
	}
	if down > high {
		down -= step
	}
	if up > down {
		return low, high
	}
	if up == down && allowed > 0 && (up-target).Abs() > allowed {
		return target - allowed, target + allowed
	}
	return up, down
}
