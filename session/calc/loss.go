package calc

import (
	"fmt"

	"tared/protocol"
	"tared/session/material"
)

func runLoss(g given) (Answer, error) {
	keep := sub(one, g["loss"].rat)
	if keep.Sign() <= 0 {
		return Answer{}, refuse("loss", g["loss"].text, "calc.that-leaves-nothing-give-less")
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
	a.Words = says("calc.raw-leaves-calcined-is-lost", show(raw), show(calcined), show(raw-calcined))
	a.note("calc.calcined-dust")
	a.mass("raw_g", raw)
	a.mass("calcined_g", calcined)
	a.mass("lost_g", raw-calcined)
	return a, nil
}

// runMaterialLoss takes the loss of a material from the table.
func runMaterialLoss(g given) (Answer, error) {
	m := g["material"].material
	loss, ok := m.Loss()
	if !ok {
		return Answer{}, refuse("material", g["material"].text, "calc.has-no-loss-of-its", m.Name)
	}
	raw := 100 * protocol.Gram
	if g.has("raw") {
		raw = g["raw"].mass
	}
	calcined, err := grams(mul(raw.Rat(), sub(one, loss)))
	if err != nil {
		return Answer{}, err
	}
	var a Answer
	a.Words = says("calc.loses-on-ignition-raw-leaves", m.Name, percent(loss), show(raw), show(calcined), ofGrams(quo(one, sub(one, loss))))
	a.note("calc.as-sold")
	a.number("loss_percent", mul(loss, hundred))
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
	for _, e := range left.Elements() {
		if e != "O" && from.Atoms(e) < count*left.Atoms(e) {
			return Answer{}, refuse("left", g["left"].text, "calc.it-has-more-than-the", e, from)
		}
	}
	loss, err := material.Loss(from, left, count)
	if err != nil {
		return Answer{}, refuse("left", g["left"].text, "calc.of-it-is-heavier-than", count, from)
	}
	what := left.String()
	if count > 1 {
		what = fmt.Sprintf("%d %s", count, left)
	}
	var a Answer
	a.Words = says("calc.loses-on-ignition-when-it", from, percent(loss), what)
	a.note("calc.pure-compound")
	a.number("loss_percent", mul(loss, hundred))
	return a, nil
}
