package calc

import (
	"tared/session/slip"
	"tared/session/text"
)

func runWater(g given) (Answer, error) {
	dry, gravity, solid := g["dry"].mass, g["gravity"].rat, g["solid"].rat
	if gravity.Cmp(one) == 0 {
		return Answer{}, refuse("gravity", g["gravity"].text, "calc.is-water-itself-no-amount")
	}
	if err := within(g); err != nil {
		return Answer{}, err
	}
	per, err := slip.Water(gravity, solid)
	if err != nil {
		return Answer{}, err
	}
	exact := mul(per, dry.Rat())
	water, err := grams(exact)
	if err != nil {
		return Answer{}, err
	}
	litres, err := slip.Holding(dry.Rat(), gravity, solid)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = says("calc.of-water-brings-dry-to", show(water), show(dry), text.Number("", g["gravity"].text))
	a.fact(says("calc.it-makes"), says("calc.litres-of-slip", plain(litres)))
	a.fact(says("calc.water-to-dry"), says("calc.is", plain(per)))
	a.note("calc.hold-back")
	a.note("calc.solid-hint")
	a.mass("water_g", water)
	a.number("water_per_dry", per)
	a.number("slip_l", litres)
	return a, nil
}
