package calc

import (
	"fmt"

	"tared/protocol"
	"tared/session/material"
)

func metalTopic() Topic {
	return Topic{
		Name:  "metal",
		Title: "The same metal",
		About: "How much of one compound carries the same colouring metal as another, an oxide for a carbonate?",
		Forms: []Form{{
			Args: []Arg{
				{Name: "from", Words: "formula of the compound in the recipe", Kind: Formula, Like: "MnO2"},
				{Name: "to", Words: "formula of the compound in the bag", Kind: Formula, Like: "MnCO3"},
				{Name: "mass", Words: "how much of the first there is; 1 g if left out", Kind: Mass, Like: "1g", Optional: true},
			},
			Formula: []string{
				"share of metal = atoms of the metal · its atomic weight / molar mass",
				"factor = share of metal in from / share of metal in to; mass = factor · mass of from",
			},
			Source: []string{"atomic weights: IUPAC/CIAAW, Standard Atomic Weights 2021; where that gives an interval, the conventional value (from memory)"},
			Example: Example{
				Given:  []Given{{"from", "Cu2O"}, {"to", "CuO"}},
				Says:   "1.112 g of CuO carries the same Cu as 1 g of Cu2O: a factor of 1.1118.",
				JSON:   `{"factor":1.111809967,"mass_g":1.111809967,"metal":"Cu","from_metal_percent":88.819003292,"to_metal_percent":79.886856496,"from_g_per_mol":143.091,"to_g_per_mol":79.545}`,
				Source: "Hamer and Hamer, The Potter's Dictionary, 4th ed., pp. 75-76, as quoted in Clayart, 3 July 2002: 1.11",
			},
			run: runMetal,
		}},
	}
}

// metalsWords names what material.Formula.Metal knows.
const metalsWords = "cobalt, copper, manganese, iron, nickel, chromium, zirconium, tin, titanium, vanadium or zinc"

func runMetal(g given) (Answer, error) {
	from, to := g["from"].formula, g["to"].formula
	for _, name := range []string{"from", "to"} {
		if _, ok := g[name].formula.Metal(); !ok {
			return Answer{}, refuse(name, g[name].text, "it holds no colouring or opacifying metal, or more than one: want a compound of %s alone", metalsWords)
		}
	}
	metal, _ := from.Metal()
	if other, _ := to.Metal(); other != metal {
		return Answer{}, refuse("to", g["to"].text, "%s cannot stand for %s: the one holds %s, the other %s; take a compound of the same metal", to, from, other, metal)
	}
	// Convert looks only at what would be weighed. A poison is not reckoned with
	// as what is replaced either, so it is asked the other way round too.
	if _, err := material.Convert(to, from); err != nil {
		return Answer{}, refuse("from", g["from"].text, "%v; ask for a recipe without it, and see the supplier's safety data sheet", err)
	}
	factor, err := material.Convert(from, to)
	if err != nil {
		return Answer{}, refuse("to", g["to"].text, "%v; take the oxide, and see the supplier's safety data sheet", err)
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
	if bareCarbonate(from) || bareCarbonate(to) {
		a.Notes = append(a.Notes, "What is sold as copper carbonate is the basic one, Cu2(OH)2CO3, not CuCO3: look at the bag.")
	}
	a.Notes = append(a.Notes,
		"This holds for the pure compound with the formula that stands on the bag. The metal is the same, the rest is not: gas in the firing, colour and melting can differ, so test first.",
		"Another compound can be another hazard: read the supplier's safety data sheet before you open the bag.")
	a.number("factor", factor)
	a.mass("mass_g", got)
	a.text("metal", metal)
	a.number("from_metal_percent", mul(from.Fraction(metal), hundred))
	a.number("to_metal_percent", mul(to.Fraction(metal), hundred))
	a.number("from_g_per_mol", from.Molar())
	a.number("to_g_per_mol", to.Molar())
	return a, nil
}

// bareCarbonate tells whether it is CuCO3, which is in the books but not in shops.
func bareCarbonate(f material.Formula) bool {
	return f.Atoms("Cu") == 1 && f.Atoms("C") == 1 && f.Atoms("O") == 3 && f.Atoms("H") == 0
}
