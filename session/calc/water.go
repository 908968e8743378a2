package calc

import (
	"fmt"

	"tared/session/slip"
)

func runWater(g given) (Answer, error) {
	dry, gravity, solid := g["dry"].mass, g["gravity"].rat, g["solid"].rat
	if gravity.Cmp(one) == 0 {
		return Answer{}, refuse("gravity", g["gravity"].text, "1 is water itself: no amount of water brings a glaze there; use more than 1, for example 1.45")
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
	a.Words = fmt.Sprintf("%s of water brings %s dry to a specific gravity of %s.", show(water), show(dry), g["gravity"].text)
	a.fact("it makes", plain(litres)+" l of slip")
	a.fact("water to one of dry", plain(per))
	a.Notes = []string{"Hold a part of the water back, measure the gravity, then add: a batch can thicken overnight.", solidHint}
	a.mass("water_g", water)
	a.number("water_per_dry", per)
	a.number("slip_l", litres)
	return a, nil
}
