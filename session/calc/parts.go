package calc

import (
	"fmt"
	"math/big"

	"tared/session/recipe"
	"tared/session/text"
)

func runParts(g given) (Answer, error) {
	list, places := g["amounts"].list, int64(2)
	if g.has("places") {
		places = g["places"].n
	}
	if places > 9 {
		return Answer{}, refuse("places", g["places"].text, "calc.use-to-decimals")
	}
	shares, err := recipe.LargestRemainder(list, int(places))
	if err != nil {
		return Answer{}, err
	}
	sum := new(big.Rat)
	for _, r := range list {
		sum.Add(sum, r)
	}
	a := Answer{Table: &Table{Heads: []text.Message{says("calc.no"), says("calc.part"), says("calc.percent")}}}
	var texts []string
	var each []text.Value
	for i, d := range shares {
		texts = append(texts, trim(d.String()))
		a.Table.Rows = append(a.Table.Rows, []string{fmt.Sprint(i + 1), g["amounts"].texts[i], d.String()})
		each = append(each, text.Number("", d.String()))
	}
	a.Words = says("calc.in-percent-together-exactly", text.List("", each))
	a.numbers("percent", texts)
	a.number("sum", sum)
	return a, nil
}
