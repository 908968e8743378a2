package calc

import (
	"fmt"

	"tared/session/slip"
)

func waterTopic() Topic {
	return Topic{
		Name:  "water",
		Title: "Water for a batch",
		About: "How much water brings a dry batch to a specific gravity?",
		Forms: []Form{{
			Args: []Arg{
				{Name: "dry", Words: "the dry batch", Kind: Mass, Like: "5kg"},
				{Name: "gravity", Words: "specific gravity wanted", Kind: Gravity, Like: "1.6"},
				{Name: "solid", Words: solidArg.Words, Kind: Solid, Like: "2.6"},
			},
			Formula: []string{
				"water = dry · (1 - gravity/solid) / (gravity - 1)",
				"water and dry material are taken to add up by volume",
			},
			Source: []string{"plain arithmetic from Brongniart's formula (topic slip)"},
			Example: Example{
				Given:  []Given{{"dry", "833.3g"}, {"gravity", "1.5"}, {"solid", "2.5"}},
				Says:   "666.64 g of water brings 833.3 g dry to a specific gravity of 1.5.",
				JSON:   `{"water_g":666.64,"water_per_dry":0.8,"slip_l":0.99996}`,
				Source: "833.3 g dry and 666.7 g of water make a litre of 1.5: S. Altmann, Clayart, 30 January 1998 (potters.org/subject11877), asked the other way round",
			},
			run: runWater,
		}},
	}
}

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
