package calc

import (
	"fmt"
	"math/big"

	"tared/protocol"
	"tared/session/material"
)

// metalsWords names what material.Formula.Metal knows.
const metalsWords = "cobalt, copper, manganese, iron, nickel, chromium, zirconium, tin, titanium, vanadium or zinc alone, or of one flux (lithium, sodium, potassium, magnesium, calcium, strontium, barium) with nothing else that stays in the glass"

func runMetal(g given) (Answer, error) {
	from, to := g["from"].formula, g["to"].formula
	for _, name := range []string{"from", "to"} {
		if _, ok := g[name].formula.Metal(); !ok {
			return Answer{}, refuse(name, g[name].text, "it has no metal that can be calculated with, or more than one: use a compound of %s", metalsWords)
		}
	}
	metal, _ := from.Metal()
	if other, _ := to.Metal(); other != metal {
		return Answer{}, refuse("to", g["to"].text, "%s cannot stand for %s: the one holds %s, the other %s; take a compound of the same metal", to, from, other, metal)
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
			return Answer{}, refuse(p.name, g[p.name].text, "use more than 0 %% and at most 100 %%, for example 98%%")
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
	a.Words = fmt.Sprintf("%s of %s carries the same %s as %s of %s: a factor of %s.", show(got), to, metal, show(mass), from, trim(factor.FloatString(4)))
	for _, f := range []material.Formula{from, to} {
		a.fact(f.String(), fmt.Sprintf("%s g/mol, %s %s", plain(f.Molar()), percent(f.Fraction(metal)), metal))
	}
	if g.has("purity") {
		a.fact("purity of "+to.String(), percent(g["purity"].rat)+"; pure, the factor would be "+trim(pure.FloatString(4)))
	}
	if g.has("from_purity") {
		a.fact("purity of "+from.String(), percent(g["from_purity"].rat))
	}
	a.Notes = append(a.Notes, asSold(g, metal, factor, &a)...)
	if bareCarbonate(from) || bareCarbonate(to) {
		a.Notes = append(a.Notes, "What is sold as copper carbonate is the basic one, Cu2(OH)2CO3, not CuCO3: look at the bag.")
	}
	a.Notes = append(a.Notes,
		"This holds for the compound with the formula that stands on the bag, and what is not pure is taken to bring none of the metal. The metal is the same, the rest is not: gas in the firing, colour and melting can differ, so test first.",
		"Another compound can be another hazard: read the supplier's safety data sheet before you open the bag.")
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
func asSold(g given, metal string, factor *big.Rat, a *Answer) (notes []string) {
	low, high := factor, factor
	for _, name := range []string{"from", "to"} {
		m := g[name].sold
		if m.Sold.Words != "" {
			notes = append(notes, fmt.Sprintf("%s: %s.", m.Name, m.Sold.Words))
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
		notes = append(notes, fmt.Sprintf("Bags differ: with what is usual in them the factor lies from %s to %s. Read on the bag how much %s it holds.", trim(low.FloatString(4)), trim(high.FloatString(4)), metal))
		a.number("factor_low", low)
		a.number("factor_high", high)
	}
	return notes
}

// bareCarbonate reports whether it is CuCO3, which is in the books but not in shops.
func bareCarbonate(f material.Formula) bool {
	return f.Atoms("Cu") == 1 && f.Atoms("C") == 1 && f.Atoms("O") == 3 && f.Atoms("H") == 0
}
