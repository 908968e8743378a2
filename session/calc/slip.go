package calc

import (
	"fmt"
	"math/big"

	"tared/session/slip"
)

const solidHint = "Relative densities: feldspar 2.6, silica 2.65, whiting 2.7, clays 2.5 to 2.6 (Handbook for Australian Potters); for a mixed glaze 2.6 is near."

// within holds a slip's gravity under that of its dry material.
func within(g given) error {
	if g["gravity"].rat.Cmp(g["solid"].rat) >= 0 {
		return refuse("gravity", g["gravity"].text, "the slip cannot be as heavy as its dry material, %s: one of the two is wrong", g["solid"].text)
	}
	return nil
}

func runSlip(g given) (Answer, error) {
	gravity, solid := g["gravity"].rat, g["solid"].rat
	if err := within(g); err != nil {
		return Answer{}, err
	}
	dry, err := slip.Dry(gravity, solid)
	if err != nil {
		return Answer{}, err
	}
	water := sub(mul(gravity, litre), dry)
	// Water alone holds nothing dry, and no volume of it holds 100 g.
	var volume, ratio *big.Rat
	if dry.Sign() > 0 {
		if volume, err = slip.Holding(hundred, gravity, solid); err != nil {
			return Answer{}, err
		}
		volume = mul(volume, litre)
		if ratio, err = slip.Water(gravity, solid); err != nil {
			return Answer{}, err
		}
	}
	var a Answer
	a.Words = fmt.Sprintf("A litre holds %s g dry and %s g of water.", plain(dry), plain(water))
	if ratio != nil {
		a.fact("100 g dry are in", plain(volume)+" ml")
		a.fact("water to one of dry", plain(ratio))
	}
	a.Notes = []string{solidHint}
	for _, m := range []struct {
		key string
		g   *big.Rat
	}{{"dry_g_per_l", dry}, {"water_g_per_l", water}, {"ml_per_100g_dry", volume}, {"water_per_dry", ratio}} {
		a.number(m.key, m.g)
	}
	return a, nil
}
