package calc

import (
	"tared/protocol"
	"tared/session/slip"
	"tared/session/text"
)

// runMoist goes by the weights before and after drying, or by the water alone.
func runMoist(g given) (Answer, error) {
	dry, total := g["dry"].mass, g["wet"].mass
	if g.has("water") {
		if total = g["water"].mass + dry; total > protocol.Most {
			return Answer{}, refuse("water", g["water"].text, "calc.both-together-are-too-much", protocol.ErrRange)
		}
	}
	if total < dry {
		return Answer{}, refuse("wet", g["wet"].text, "calc.it-weighs-less-wet-than", show(dry), g["wet"].text)
	}
	water := total - dry
	wb, db := mul(quo(water.Rat(), total.Rat()), hundred), mul(quo(water.Rat(), dry.Rat()), hundred)
	var a Answer
	a.Words = says("calc.moist", show(total), show(dry), show(water), text.Share("", digits(wb)), text.Share("", digits(db)))
	a.number("wet_basis_percent", wb)
	a.number("dry_basis_percent", db)
	a.mass("total_g", total)
	a.mass("water_g", water)
	return a, nil
}

func runWeighMoist(g given) (Answer, error) {
	need := g["need"].mass
	wb := g["wet_basis"].rat
	if g.has("dry_basis") {
		var err error
		if wb, err = slip.WetBasis(mul(g["dry_basis"].rat, hundred)); err != nil {
			return Answer{}, err
		}
	} else {
		if wb.Cmp(one) >= 0 {
			return Answer{}, refuse("wet_basis", g["wet_basis"].text, "calc.all-water")
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
	if a.Words = says("calc.weigh-moist-wet", show(weigh), show(need), text.Share("", digits(wb))); g.has("dry_basis") {
		a.Words = says("calc.weigh-moist-dry", show(weigh), show(need), percent(g["dry_basis"].rat))
	}
	a.fact(says("calc.water-in-it"), says("calc.is", show(weigh-need)))
	a.mass("weigh_g", weigh)
	a.mass("water_g", weigh-need)
	return a, nil
}
