package calc

import (
	"math/big"

	"tared/protocol"
	"tared/session/material"
	"tared/session/text"
)

// metalsWords names what material.Formula.Metal knows.
const metalsWords = "cobalt, copper, manganese, iron, nickel, chromium, zirconium, tin, titanium, vanadium or zinc alone, or of one flux (lithium, sodium, potassium, magnesium, calcium, strontium, barium) with nothing else that stays in the glass"

func runMetal(g given) (Answer, error) {
	from, to := g["from"].formula, g["to"].formula
	for _, name := range []string{"from", "to"} {
		if _, ok := g[name].formula.Metal(); !ok {
			return Answer{}, refuse(name, g[name].text, "calc.it-has-no-metal-that", metalsWords)
		}
	}
	metal, _ := from.Metal()
	if other, _ := to.Metal(); other != metal {
		return Answer{}, refuse("to", g["to"].text, "calc.cannot-stand-for-the-one", to, from, other, metal)
	}
	pure, err := material.Convert(from, to)
	if err != nil {
		return Answer{}, err
	}
	factor := pure
	for _, p := range []struct {
		name string
		of   func(a, b *big.Rat) *big.Rat
	}{{"purity", quo}, {"from_purity", mul}} {
		if !g.has(p.name) {
			continue
		}
		if g[p.name].rat.Cmp(one) > 0 {
			return Answer{}, refuse(p.name, g[p.name].text, "calc.purity-range")
		}
		factor = p.of(factor, g[p.name].rat)
	}
	mass := protocol.Gram
	if g.has("mass") {
		mass = g["mass"].mass
	}
	got, err := grams(mul(factor, mass.Rat()))
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = says("calc.of-carries-the-same-as", show(got), to, metal, show(mass), from, factorOf(factor))
	for _, f := range []material.Formula{from, to} {
		a.fact(says("calc.is", f), says("calc.molar", plain(f.Molar()), percent(f.Fraction(metal)), metal))
	}
	if g.has("purity") {
		a.fact(says("calc.purity-of", to), says("calc.pure-factor", percent(g["purity"].rat), factorOf(pure)))
	}
	if g.has("from_purity") {
		a.fact(says("calc.purity-of", from), says("calc.is", percent(g["from_purity"].rat)))
	}
	a.Notes = append(a.Notes, asSold(g, metal, factor, &a)...)
	if bareCarbonate(from) || bareCarbonate(to) {
		a.note("calc.basic-copper")
	}
	a.note("calc.holds-for-formula")
	a.note("calc.other-hazard")
	a.number("factor", factor)
	a.mass("mass_g", got)
	if g.has("purity") || g.has("from_purity") {
		a.number("pure_factor", pure)
	}
	a.text("metal", metal)
	a.number("from_metal_percent", mul(from.Fraction(metal), hundred))
	a.number("to_metal_percent", mul(to.Fraction(metal), hundred))
	a.number("from_g_per_mol", from.Molar())
	a.number("to_g_per_mol", to.Molar())
	return a, nil
}

// asSold says in what form the bags are sold, and how far the factor can be off for it.
func asSold(g given, metal string, factor *big.Rat, a *Answer) (notes []text.Message) {
	low, high := factor, factor
	for _, name := range []string{"from", "to"} {
		m := g[name].sold
		if m.Sold.Words != "" {
			notes = append(notes, says("calc.sold-as", m.Name, text.Term("", m.Sold.Words)))
		}
		least, ok := new(big.Rat).SetString(m.Metal.Low)
		most, ok2 := new(big.Rat).SetString(m.Metal.High)
		if !ok || !ok2 {
			continue
		}
		pure := mul(g[name].formula.Fraction(metal), hundred)
		if name == "to" {
			least, most, pure = quo(one, most), quo(one, least), quo(one, pure)
		}
		low, high = mul(low, quo(least, pure)), mul(high, quo(most, pure))
	}
	if low != high && !g.has("purity") && !g.has("from_purity") {
		notes = append(notes, says("calc.bags-differ-with-what-is", factorOf(low), factorOf(high), metal))
		a.number("factor_low", low)
		a.number("factor_high", high)
	}
	return notes
}

// bareCarbonate reports whether it is CuCO3, which is in the books but not in shops.
func bareCarbonate(f material.Formula) bool {
	return f.Atoms("Cu") == 1 && f.Atoms("C") == 1 && f.Atoms("O") == 3 && f.Atoms("H") == 0
}
