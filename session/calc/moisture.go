package calc

import (
	"fmt"

	"tared/protocol"
	"tared/session/slip"
)

// runMoist goes by the weights before and after drying, or by the water alone.
func runMoist(g given) (Answer, error) {
	dry, total := g["dry"].mass, g["wet"].mass
	if g.has("water") {
		if total = g["water"].mass + dry; total > protocol.Most {
			return Answer{}, refuse("water", g["water"].text, "both together are too much: %v", protocol.ErrRange)
		}
	}
	if total < dry {
		return Answer{}, refuse("wet", g["wet"].text, "it weighs less wet than dry, %s: wet is the weight before drying; if it is the water alone, give it as water=%s", show(dry), g["wet"].text)
	}
	water := total - dry
	wb, db := mul(quo(water.Rat(), total.Rat()), hundred), mul(quo(water.Rat(), dry.Rat()), hundred)
	var a Answer
	a.Words = fmt.Sprintf("%s wet and %s dry hold %s of water: %s %% moisture on the wet basis, %s %% on the dry basis.",
		show(total), show(dry), show(water), plain(wb), plain(db))
	a.number("wet_basis_percent", wb)
	a.number("dry_basis_percent", db)
	a.mass("total_g", total)
	a.mass("water_g", water)
	return a, nil
}

func runWeighMoist(g given) (Answer, error) {
	need := g["need"].mass
	wb, words := g["wet_basis"].rat, "wet"
	if g.has("dry_basis") {
		var err error
		if wb, err = slip.WetBasis(mul(g["dry_basis"].rat, hundred)); err != nil {
			return Answer{}, err
		}
		words = "dry"
	} else {
		if wb.Cmp(one) >= 0 {
			return Answer{}, refuse("wet_basis", g["wet_basis"].text, "that is all water and nothing dry: use less than 100 %%; if it is percent of the dry material, give dry_basis")
		}
		wb = mul(wb, hundred)
	}
	exact, err := slip.Moist(need.Rat(), wb)
	if err != nil {
		return Answer{}, err
	}
	weigh, err := grams(exact)
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = fmt.Sprintf("Weigh %s of the moist material to have %s dry: %s moisture on the %s basis.", show(weigh), show(need), percent(g[words+"_basis"].rat), words)
	a.fact("water in it", show(weigh-need))
	a.mass("weigh_g", weigh)
	a.mass("water_g", weigh-need)
	return a, nil
}
