package calc

import (
	"fmt"

	"tared/session/slip"
)

func runMoist(g given) (Answer, error) {
	water, dry := g["wet"].mass.Rat(), g["dry"].mass.Rat()
	db := mul(quo(water, dry), hundred)
	wb, err := slip.WetBasis(db)
	if err != nil {
		return Answer{}, err
	}
	total, err := grams(add(water, dry))
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = fmt.Sprintf("%s of water and %s dry are %s in all: %s %% moisture on the wet basis, %s %% on the dry basis.",
		show(g["wet"].mass), show(g["dry"].mass), show(total), plain(wb), plain(db))
	if g["wet"].mass > g["dry"].mass {
		a.Notes = append(a.Notes, fmt.Sprintf("More water than dry material? If %s was the moist material as weighed, the water alone is %s: give that.",
			show(g["wet"].mass), show(g["wet"].mass-g["dry"].mass)))
	}
	a.number("wet_basis_percent", wb)
	a.number("dry_basis_percent", db)
	a.mass("total_g", total)
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
