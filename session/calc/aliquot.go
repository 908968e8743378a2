package calc

import (
	"errors"
	"fmt"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/sheet"
)

func aliquotTopic() Topic {
	return Topic{
		Name:  "aliquot",
		Title: "Aliquot",
		About: "How is an amount weighed that is too little for the scale, by way of a mixture?",
		Forms: []Form{{
			Args: []Arg{
				{Name: "need", Words: "what is needed", Kind: Mass, Like: "2mg"},
				{Name: "least", Words: "the least that the scale can weigh (topic least)", Kind: Mass, Like: "120mg"},
				{Name: "times", Words: "how many times what is needed goes into the mixture", Kind: Count, Like: "60", Optional: true},
				{Name: "take", Words: "the part of the mixture that is weighed out", Kind: Mass, Like: "125mg", Optional: true},
				{Name: "weigh", Words: "to check a plan: what it weighs of the material", Kind: Mass, Like: "120mg", Optional: true},
				{Name: "total", Words: "to check a plan: its whole mixture", Kind: Mass, Like: "7500mg", Optional: true},
			},
			Formula: []string{
				"weigh = times · need, at least the least; times is the smallest whole number that does, unless given",
				"total = times · take; take is at least the least",
				"carrier = total - weigh, at least the least; the part then holds take · weigh / total = need",
			},
			Source: []string{"UNC pharmlabs, Weighing; basicmedicalkey.com, Accurate weighing for prescriptions"},
			Example: Example{
				Given:  []Given{{"need", "2mg"}, {"least", "120mg"}, {"times", "60"}, {"take", "125mg"}},
				Says:   "Weigh 0.12 g, 60 times what is needed; mix it into 7.38 g of a carrier; weigh out 0.125 g of that, which holds 0.002 g.",
				JSON:   `{"times":60,"weigh_g":0.12,"carrier_g":7.38,"total_g":7.5,"take_g":0.125,"carrier_in_part_g":0.123,"portions_g":[0.12,0.24,0.48,0.96,1.92,3.66]}`,
				Source: "basicmedicalkey.com, Accurate weighing for prescriptions",
			},
			run: runAliquot,
		}},
	}
}

func runAliquot(g given) (Answer, error) {
	need, least := g["need"].mass, g["least"].mass
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
	var a Answer
	a.Words = fmt.Sprintf("Weigh %s, %d times what is needed; mix it into %s of a carrier; weigh out %s of that, which holds %s.",
		show(p.Weigh), p.N, show(p.Dilute), show(p.Take), show(need))
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
	a.put("times", fmt.Sprint(p.N))
	a.mass("weigh_g", p.Weigh)
	a.mass("carrier_g", p.Dilute)
	a.mass("total_g", p.Total)
	a.mass("take_g", p.Take)
	a.mass("carrier_in_part_g", p.Less)
	a.numbers("portions_g", texts)
	return a, nil
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
		return refuse("", "", "the plan delivers, but not with %d times: weigh %s and make it up to %s", p.N, show(p.Weigh), show(p.Total))
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
