package calc

import (
	"math/big"

	"tared/session/slip"
)

// within holds a slip's gravity under that of its dry material.
func within(g given) error {
	if g["gravity"].rat.Cmp(g["solid"].rat) >= 0 {
		return refuse("gravity", g["gravity"].text, "calc.the-slip-cannot-be-as", g["solid"].text)
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
	a.Words = says("calc.a-litre-holds-g-dry", ofGrams(dry), ofGrams(water))
	if ratio != nil {
		a.fact(says("calc.100-dry-in"), says("calc.millilitres", plain(volume)))
		a.fact(says("calc.water-to-dry"), says("calc.is", plain(ratio)))
	}
	a.note("calc.solid-hint")
	for _, m := range []struct {
		key string
		g   *big.Rat
	}{{"dry_g_per_l", dry}, {"water_g_per_l", water}, {"ml_per_100g_dry", volume}, {"water_per_dry", ratio}} {
		a.number(m.key, m.g)
	}
	return a, nil
}
