package calc

import (
	"fmt"
	"math/big"

	"tared/session/recipe"
)

func partsTopic() Topic {
	return Topic{
		Name:  "parts",
		Title: "Parts to percent",
		About: "What are the parts of a recipe in percent that really add up to 100?",
		Forms: []Form{{
			Args: []Arg{
				{Name: "amounts", Words: "the parts, with blanks between them", Kind: Amounts, Like: "30 25 20 30 10"},
				{Name: "places", Words: "decimals, 0 to 9; 2 if left out", Kind: Count, Like: "2", Optional: true, Zero: true},
			},
			Formula: []string{
				"percent = 100 · part / sum of the parts, cut to the decimals wanted",
				"what is then lacking to 100 goes, a unit of the last decimal each, to the largest remainders",
			},
			Source: []string{"rounding by largest remainder; base materials by their own total, additions outside the 100: community.ceramicartsdaily.org, topic 5845"},
			Example: Example{
				Given:  []Given{{"amounts", "30 25 20 30 10"}},
				Says:   "In percent: 26.09, 21.74, 17.39, 26.09, 8.69; together exactly 100.",
				JSON:   `{"percent":[26.09,21.74,17.39,26.09,8.69],"sum":115}`,
				Source: "community.ceramicartsdaily.org, topic 5845; plain rounding would give 100.01",
			},
			run: runParts,
		}},
	}
}

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
