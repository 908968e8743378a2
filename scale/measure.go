package scale

import (
	"fmt"

	"tared/protocol"
)

// measure turns digits into mass and step, or says why it cannot.
//
// The step is the one that the digits show, or the user's, least, where that is coarser:
// a scale that counts by fives shows a finer digit than it has, while digits
// coarser than the user's step are those of another range.
func measure(r *protocol.Reading, least protocol.Mass, u *Update) string {
	switch r.Status {
	case protocol.OK:
	case protocol.Overload:
		return "more is on the pan than the scale can weigh: take something off"
	case protocol.Underload:
		return "less is on the pan than the scale can weigh: is the pan in its place and free?"
	default:
		if r.Why != "" {
			return "the scale gives no weight now: " + r.Why
		}
		return "the scale gives no weight now"
	}
	switch {
	case r.Unit == protocol.UnitNone:
		return "the line shows no unit: set unit= to the unit that the display shows, such as unit=g"
	case r.Unit == protocol.UnitPieces, r.Unit == protocol.UnitPercent:
		return fmt.Sprintf("The scale shows %s, which is not a weight. Press its unit or mode key until it shows g.", r.Unit)
	case !r.Unit.IsMass():
		return fmt.Sprintf("the scale shows %s, which is not used here as a unit of mass: press its unit key until it shows g", r.Unit)
	}
	m, err := r.Value.Nearest(r.Unit)
	if err != nil {
		return fmt.Sprintf("the scale shows %s %s: %v", r.Value, r.Unit, err)
	}
	if m.Abs() > protocol.OnBench {
		return fmt.Sprintf("the scale shows %s %s: no bench has a scale for more than 1000 kg: see that unit= is what its display shows", r.Value, r.Unit)
	}
	d := r.Step
	if d.Coef == 0 {
		d = protocol.Decimal{Coef: 1, Places: r.Value.Places}
	}
	step, err := d.Nearest(r.Unit)
	if err != nil || step == 0 {
		return fmt.Sprintf("the scale shows %s %s: its step cannot be held", r.Value, r.Unit)
	}
	u.Mass, u.Step = m, max(step, least)
	return ""
}
