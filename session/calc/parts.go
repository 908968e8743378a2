package calc

import (
	"fmt"
	"math/big"

	"tared/session/recipe"
)

func runParts(g given) (Answer, error) {
	list, places := g["amounts"].list, int64(2)
	if g.has("places") {
		places = g["places"].n
	}
	if places > 9 {
		return Answer{}, refuse("places", g["places"].text, "use 0 to 9 decimals")
	}
	shares, err := recipe.LargestRemainder(list, int(places))
	if err != nil {
		return Answer{}, err
	}
	sum := new(big.Rat)
	for _, r := range list {
		sum.Add(sum, r)
	}
	a := Answer{Table: &Table{Heads: []string{"no.", "part", "percent"}}}
	var texts []string
	words := ""
	for i, d := range shares {
		texts = append(texts, trim(d.String()))
		a.Table.Rows = append(a.Table.Rows, []string{fmt.Sprint(i + 1), g["amounts"].texts[i], d.String()})
		if i > 0 {
			words += ", "
		}
		words += d.String()
	}
	a.Words = fmt.Sprintf("In percent: %s; together exactly 100.", words)
	a.numbers("percent", texts)
	a.number("sum", sum)
	return a, nil
}
