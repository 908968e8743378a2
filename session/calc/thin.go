package calc

import (
	"tared/session/slip"
	"tared/session/text"
)

func runThin(g given) (Answer, error) {
	volume, from, to := g["volume"].rat, g["gravity"].rat, g["to"].rat
	switch {
	case to.Cmp(one) <= 0:
		return Answer{}, refuse("to", g["to"].text, "calc.water-cannot-bring-a-slip")
	case to.Cmp(from) >= 0:
		return Answer{}, refuse("to", g["to"].text, "calc.that-is-not-thinner-than", g["gravity"].text)
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
	a.Words = says("calc.of-water-thins-l-from", show(water), plain(volume), text.Number("", g["gravity"].text), text.Number("", g["to"].text))
	a.fact(says("calc.it-makes"), says("calc.litres", plain(after)))
	a.note("calc.add-the-most")
	a.mass("water_g", water)
	a.number("volume_after_l", after)
	return a, nil
}
