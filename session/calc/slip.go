package calc

import (
	"fmt"
	"math/big"

	"tared/session/slip"
)

// The arguments that the topics about slip share.
var (
	gravityArg = Arg{Name: "gravity", Words: "specific gravity of the slip", Kind: Gravity, Like: "1.5"}
	solidArg   = Arg{Name: "solid", Words: "relative density of the dry material", Kind: Solid, Like: "2.5"}
)

const solidHint = "Relative densities: feldspar 2.6, silica 2.65, whiting 2.7, clays 2.5 to 2.6 (Handbook for Australian Potters); for a mixed glaze 2.6 is near."

func slipTopic() Topic {
	return Topic{
		Name:  "slip",
		Title: "What a slip holds",
		About: "How much dry material and how much water are in a litre of slip or glaze?",
		Forms: []Form{{
			Args: []Arg{gravityArg, solidArg},
			Formula: []string{
				"dry in a litre = (1000 · gravity - 1000) · solid / (solid - 1), in grams: Brongniart's formula",
				"water in a litre = 1000 · gravity - dry",
				"millilitres that hold 100 g dry = 100 000 / dry in a litre",
				"water to one of dry = (1 - gravity/solid) / (gravity - 1)",
			},
			Source: []string{
				"A. Brongniart, Traité des arts céramiques, vol. 1, 1854, p. 249, as cited in Harrison and others, Handbook for Australian Potters",
			},
			Example: Example{
				Given:  []Given{{"gravity", "1.5"}, {"solid", "2.5"}},
				Says:   "A litre holds 833.333 g dry and 666.667 g of water.",
				JSON:   `{"dry_g_per_l":833.333333333,"water_g_per_l":666.666666667,"ml_per_100g_dry":120,"water_per_dry":0.8}`,
				Source: "833.3 g dry and 666.7 g of water: S. Altmann, Clayart, 30 January 1998 (potters.org/subject11877)",
			},
			run: runSlip,
		}},
	}
}

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
