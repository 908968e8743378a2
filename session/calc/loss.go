package calc

import (
	"fmt"

	"tared/session/material"
)

func lossTopic() Topic {
	loss := Arg{Name: "loss", Words: "loss on ignition, as the supplier's analysis gives it", Kind: Share, Like: "12%", Zero: true}
	arithmetic := []string{"plain arithmetic; what is driven off is carbon dioxide, water and organic matter"}
	return Topic{
		Name:  "loss",
		Title: "Loss on ignition",
		About: "How much of a raw material is left after calcining, and how much raw stands for calcined?",
		Forms: []Form{{
			Title:   "How much is left?",
			Args:    []Arg{{Name: "raw", Words: "the raw material", Kind: Mass, Like: "100g"}, loss},
			Formula: []string{"calcined = raw · (1 - loss / 100)"},
			Source:  arithmetic,
			Example: Example{
				Given:  []Given{{"raw", "100g"}, {"loss", "12%"}},
				Says:   "100 g raw leaves 88 g calcined: 12 g is lost.",
				JSON:   `{"raw_g":100,"calcined_g":88,"lost_g":12}`,
				Source: "plain arithmetic: 88 % of 100 g",
			},
			run: runLoss,
		}, {
			Title:   "How much raw stands for calcined?",
			Args:    []Arg{{Name: "calcined", Words: "the calcined material", Kind: Mass, Like: "20g"}, loss},
			Formula: []string{"raw = calcined / (1 - loss / 100)"},
			Source:  arithmetic,
			Example: Example{
				Given:  []Given{{"calcined", "20g"}, {"loss", "12%"}},
				Says:   "22.727 g raw leaves 20 g calcined: 2.727 g is lost.",
				JSON:   `{"raw_g":22.727272727,"calcined_g":20,"lost_g":2.727272727}`,
				Source: "plain arithmetic: 88 % of 22.727 g is 20 g",
			},
			run: runLoss,
		}, {
			Title: "How much does a compound lose?",
			Args: []Arg{
				{Name: "from", Words: "formula of the raw compound", Kind: Formula, Like: "CaCO3"},
				{Name: "left", Words: "formula of what it leaves", Kind: Formula, Like: "CaO"},
				{Name: "count", Words: "how many of it one of the raw leaves; 1 if left out", Kind: Count, Like: "1", Optional: true},
			},
			Formula: []string{"loss = 100 · (1 - count · molar mass of what is left / molar mass of the raw)"},
			Source:  []string{"atomic weights as in topic metal"},
			Example: Example{
				Given:  []Given{{"from", "Li2CO3"}, {"left", "Li2O"}},
				Says:   "Li2CO3 loses 59.562 % on ignition when it leaves Li2O.",
				JSON:   `{"loss_percent":59.561769164}`,
				Source: "plain arithmetic from the atomic weights",
			},
			run: runCompoundLoss,
		}},
	}
}

func runLoss(g given) (Answer, error) {
	keep := sub(one, g["loss"].rat)
	if keep.Sign() <= 0 {
		return Answer{}, refuse("loss", g["loss"].text, "that leaves nothing: give less than 100 %%")
	}
	raw, calcined := g["raw"].mass, g["calcined"].mass
	var err error
	if g.has("raw") {
		calcined, err = grams(mul(raw.Rat(), keep))
	} else {
		raw, err = grams(quo(calcined.Rat(), keep))
	}
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = fmt.Sprintf("%s raw leaves %s calcined: %s is lost.", show(raw), show(calcined), show(raw-calcined))
	a.Notes = []string{"Calcined powder is dust like any other: mask and ventilation on, and the supplier's safety data sheet comes first."}
	a.mass("raw_g", raw)
	a.mass("calcined_g", calcined)
	a.mass("lost_g", raw-calcined)
	return a, nil
}

func runCompoundLoss(g given) (Answer, error) {
	count := int64(1)
	if g.has("count") {
		count = g["count"].n
	}
	from, left := g["from"].formula, g["left"].formula
	loss, err := material.Loss(from, left, count)
	if err != nil {
		return Answer{}, refuse("left", g["left"].text, "%d of it is heavier than one %s: check both formulas", count, from)
	}
	what := left.String()
	if count > 1 {
		what = fmt.Sprintf("%d %s", count, left)
	}
	var a Answer
	a.Words = fmt.Sprintf("%s loses %s on ignition when it leaves %s.", from, percent(loss), what)
	a.Notes = []string{"This is the pure compound. What is in the bag loses what its analysis says."}
	a.number("loss_percent", mul(loss, hundred))
	return a, nil
}
