package calc

import (
	"errors"
	"fmt"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/sheet"
)

func runAliquot(g given) (Answer, error) {
	need, least := g["need"].mass, g["least"].mass
	if g.has("weigh") && g.has("total") && g.has("take") && !g.has("times") {
		p, err := plannedBy(g)
		if err != nil {
			return Answer{}, err
		}
		return sayAliquot(p), nil
	}
	o := sheet.AliquotOptions{N: g["times"].n, Take: g["take"].mass}
	if weigh, ok := g["weigh"]; ok && !g.has("times") && weigh.mass%need == 0 {
		o.N = int64(weigh.mass / need)
	}
	p, err := sheet.PlanAliquot(need, least, o)
	if err != nil {
		return Answer{}, refuse("", "", "%s", strings.TrimPrefix(err.Error(), sheet.ErrAliquot.Error()+" of "))
	}
	if err := delivers(g, p); err != nil {
		return Answer{}, err
	}
	return sayAliquot(p), nil
}

// plannedBy is the plan that a person gave whole. What goes into the mixture need be no
// whole number of times what is needed: the part is what counts.
func plannedBy(g given) (sheet.Aliquot, error) {
	need, least := g["need"].mass, g["least"].mass
	p := sheet.Aliquot{Need: need, Weigh: g["weigh"].mass, Total: g["total"].mass, Take: g["take"].mass}
	held, err := sheet.Held(p.Weigh, p.Total, p.Take)
	if err != nil {
		return p, errors.New(strings.TrimPrefix(err.Error(), sheet.ErrAliquot.Error()+": "))
	}
	p.Dilute, p.Less = p.Total-p.Weigh, p.Take-need
	for _, x := range []struct {
		key string
		is  protocol.Mass
	}{{"weigh", p.Weigh}, {"take", p.Take}, {"total", p.Dilute}} {
		if x.is < least && x.key == "total" {
			return p, refuse("total", g["total"].text, "it leaves %s of carrier, under the least that can be weighed, %s", show(x.is), show(least))
		}
		if x.is < least {
			return p, refuse(x.key, g[x.key].text, "it is under the least that can be weighed, %s", show(least))
		}
	}
	if off := sub(held, need.Rat()); off.Sign() != 0 {
		return p, refuse("", "", "the plan does not deliver what is needed: %s in %s, taking %s, holds %s g, %s; take %s g", show(p.Weigh), show(p.Total), show(p.Take),
			plain(held), howFar(off, need), plain(quo(mul(need.Rat(), p.Total.Rat()), p.Weigh.Rat())))
	}
	return p, nil
}

func sayAliquot(p sheet.Aliquot) Answer {
	var a Answer
	times := quo(p.Weigh.Rat(), p.Need.Rat())
	a.Words = fmt.Sprintf("Weigh %s, %s times what is needed; mix it into %s of a carrier; weigh out %s of that, which holds %s.",
		show(p.Weigh), plain(times), show(p.Dilute), show(p.Take), show(p.Need))
	a.fact("mixture", show(p.Total))
	a.fact("carrier in the part", show(p.Less)+", to come off the carrier's own target")
	portions := sheet.Geometric(p.Weigh, p.Dilute)
	var texts, words []string
	for _, m := range portions {
		texts = append(texts, m.Grams(0))
		words = append(words, show(m))
	}
	a.Steps = []string{
		fmt.Sprintf("Weigh %s of the material.", show(p.Weigh)),
		fmt.Sprintf("Weigh %s of the carrier, a material that the recipe has anyway.", show(p.Dilute)),
		"Mix the carrier in by portions, each as much as is there already: " + strings.Join(words, ", ") + ".",
		fmt.Sprintf("Weigh out %s of the mixture, and take %s off the carrier's own target.", show(p.Take), show(p.Less)),
	}
	a.Notes = []string{
		"Both go in as dry powder and must be mixed through; what is left of the mixture needs a label.",
		"Fine dust: mask and ventilation on, and the supplier's safety data sheet comes first.",
	}
	a.number("times", times)
	a.mass("weigh_g", p.Weigh)
	a.mass("carrier_g", p.Dilute)
	a.mass("total_g", p.Total)
	a.mass("take_g", p.Take)
	a.mass("carrier_in_part_g", p.Less)
	a.numbers("portions_g", texts)
	return a
}

// delivers holds a plan that a person gave to what is needed.
func delivers(g given, p sheet.Aliquot) error {
	if !g.has("weigh") && !g.has("total") {
		return nil
	}
	weigh, total := p.Weigh, p.Total
	if g.has("weigh") {
		weigh = g["weigh"].mass
	}
	if g.has("total") {
		total = g["total"].mass
	}
	held, err := sheet.Held(weigh, total, p.Take)
	if err != nil {
		return errors.New(strings.TrimPrefix(err.Error(), sheet.ErrAliquot.Error()+": "))
	}
	if weigh < p.Weigh && weigh < g["least"].mass {
		return refuse("weigh", g["weigh"].text, "it is under the least that can be weighed, %s: weigh %s", show(g["least"].mass), show(p.Weigh))
	}
	if off := sub(held, p.Need.Rat()); off.Sign() != 0 {
		return refuse("", "", "the plan does not deliver what is needed: %s in %s, taking %s, holds %s g, %s; weigh %s, make it up to %s and take %s",
			show(weigh), show(total), show(p.Take), plain(held), howFar(off, p.Need), show(p.Weigh), show(p.Total), show(p.Take))
	}
	if weigh != p.Weigh || total != p.Total {
		return refuse("", "", "the plan delivers, but not with %s times: weigh %s and make it up to %s", plain(quo(p.Weigh.Rat(), p.Need.Rat())), show(p.Weigh), show(p.Total))
	}
	return nil
}

func howFar(off *big.Rat, need protocol.Mass) string {
	words := "too much"
	if off.Sign() < 0 {
		words = "too little"
	}
	return percent(new(big.Rat).Abs(quo(off, need.Rat()))) + " " + words
}
