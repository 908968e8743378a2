package calc

import (
	"fmt"

	"tared/session/slip"
)

func thinTopic() Topic {
	return Topic{
		Name:  "thin",
		Title: "Thin a bucket",
		About: "How much water brings a slip or glaze that is too thick to the gravity wanted?",
		Forms: []Form{{
			Args: []Arg{
				{Name: "volume", Words: "how much slip there is", Kind: Volume, Like: "10l"},
				{Name: "gravity", Words: "its specific gravity now", Kind: Gravity, Like: "1.6"},
				{Name: "to", Words: "specific gravity wanted", Kind: Gravity, Like: "1.45"},
			},
			Formula: []string{
				"water in litres = volume · (gravity - to) / (to - 1); a litre of water is taken as 1000 g",
				"slip and water are taken to add up by volume",
			},
			Source: []string{"plain arithmetic: the mass after is the mass before and the water, and so with the volume"},
			Example: Example{
				Given:  []Given{{"volume", "10l"}, {"gravity", "1.6"}, {"to", "1.45"}},
				Says:   "3333.333 g of water thins 10 l from 1.6 to 1.45.",
				JSON:   `{"water_g":3333.333333333,"volume_after_l":13.333333333}`,
				Source: "plain arithmetic: 10 l weigh 16 kg; with 3.333 l of water 13.333 l weigh 19.333 kg, which is 1.45",
			},
			run: runThin,
		}},
	}
}

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
