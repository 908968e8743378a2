package scale

import (
	"errors"
	"fmt"
	"math/big"

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
	m, err := nanograms(r.Value, r.Unit)
	if err != nil {
		return fmt.Sprintf("the scale shows %s %s: %v", r.Value, r.Unit, err)
	}
	d := r.Step
	if d.Coef == 0 {
		d = protocol.Decimal{Coef: 1, Places: r.Value.Places}
	}
	step, err := nanograms(d, r.Unit)
	if err != nil || step == 0 {
		return fmt.Sprintf("the scale shows %s %s: its step cannot be held", r.Value, r.Unit)
	}
	u.Mass, u.Step = m, max(step, least)
	return ""
}

// nanograms converts digits to a mass. Some that instruments show are no whole
// number of nanograms, such as a tenth of an ounce (2834952312.5): these are
// rounded to the nearest, half a nanogram at most, for to refuse them would refuse
// every postal scale. The digits themselves are kept in the reading.
func nanograms(d protocol.Decimal, u protocol.Unit) (protocol.Mass, error) {
	m, err := d.Mass(u)
	if !errors.Is(err, protocol.ErrRange) {
		return m, err
	}
	ng := new(big.Int).Mul(new(big.Int).SetUint64(d.Coef), big.NewInt(u.Nanograms()))
	if d.Neg {
		ng.Neg(ng)
	}
	grams := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.Places)), nil)
	grams.Mul(grams, big.NewInt(int64(protocol.Gram)))
	return protocol.RoundRat(new(big.Rat).SetFrac(ng, grams))
}
