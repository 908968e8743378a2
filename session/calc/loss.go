package calc

import (
	"fmt"

	"tared/protocol"
	"tared/session/material"
)

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

// runMaterialLoss takes the loss of a material from the table.
func runMaterialLoss(g given) (Answer, error) {
	m := g["material"].material
	loss, ok := m.Loss()
	if !ok {
		return Answer{}, refuse("material", g["material"].text, "%s has no loss of its own in the table: take that of the supplier's analysis, as raw=100g loss=12%%", m.Name)
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
	a.Words = fmt.Sprintf("%s loses %s on ignition: %s raw leaves %s, and %s g raw stands for 1 g calcined.", m.Name, percent(loss), show(raw), show(calcined), plain(quo(one, sub(one, loss))))
	a.Notes = []string{"This is the compound as it is sold, from its formula. What is in the bag loses what its analysis says."}
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
			return Answer{}, refuse("left", g["left"].text, "it has more %s than %s: the fire adds nothing but oxygen; check both formulas", e, from)
		}
	}
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
