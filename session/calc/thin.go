package calc

import (
	"fmt"

	"tared/session/slip"
)

func runThin(g given) (Answer, error) {
	volume, from, to := g["volume"].rat, g["gravity"].rat, g["to"].rat
	switch {
	case to.Cmp(one) <= 0:
		return Answer{}, refuse("to", g["to"].text, "water cannot bring a slip down to water: use more than 1, for example 1.45")
	case to.Cmp(from) >= 0:
		return Answer{}, refuse("to", g["to"].text, "that is not thinner than %s now: water only thins; to thicken, let it stand and take water off the top", g["gravity"].text)
	}
	litres, err := slip.Thin(volume, from, to)
	if err != nil {
		return Answer{}, err
	}
	water, err := grams(mul(litres, litre))
	if err != nil {
		return Answer{}, err
	}
	after := add(volume, litres)
	var a Answer
	a.Words = fmt.Sprintf("%s of water thins %s l from %s to %s.", show(water), plain(volume), g["gravity"].text, g["to"].text)
	a.fact("it makes", plain(after)+" l")
	a.Notes = []string{"Add the most of it, stir, and measure again before the rest: water does not come out as easily as it goes in."}
	a.mass("water_g", water)
	a.number("volume_after_l", after)
	return a, nil
}
