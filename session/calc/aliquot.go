package calc

import (
	"errors"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/sheet"
	"tared/session/text"
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
		return Answer{}, refuse("", "", "calc.is", strings.TrimPrefix(err.Error(), sheet.ErrAliquot.Error()+" of "))
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
			return p, refuse("total", g["total"].text, "calc.it-leaves-of-carrier-under", show(x.is), show(least))
		}
		if x.is < least {
			return p, refuse(x.key, g[x.key].text, "calc.it-is-under-the-least", show(least))
		}
	}
	if off := sub(held, need.Rat()); off.Sign() != 0 {
		return p, refuse("", "", "calc.the-plan-does-not-deliver", show(p.Weigh), show(p.Total), show(p.Take),
			ofGrams(held), howFar(off, need), ofGrams(quo(mul(need.Rat(), p.Total.Rat()), p.Weigh.Rat())))
	}
	return p, nil
}

func sayAliquot(p sheet.Aliquot) Answer {
	var a Answer
	times := quo(p.Weigh.Rat(), p.Need.Rat())
	a.Words = says("calc.weigh-times-what-is-needed", show(p.Weigh), plain(times), show(p.Dilute), show(p.Take), show(p.Need))
	a.fact(says("calc.mixture"), says("calc.is", show(p.Total)))
	a.fact(says("calc.carrier-in-part"), says("calc.off-the-target", show(p.Less)))
	portions := sheet.Geometric(p.Weigh, p.Dilute)
	var texts []string
	var each []text.Value
	for _, m := range portions {
		texts = append(texts, m.Grams(0))
		each = append(each, show(m))
	}
	a.Steps = []text.Message{
		says("calc.weigh-of-the-material", show(p.Weigh)),
		says("calc.weigh-of-the-carrier-a", show(p.Dilute)),
		says("calc.mix-portions", text.List("", each)),
		says("calc.weigh-out-of-the-mixture", show(p.Take), show(p.Less)),
	}
	a.note("calc.dry-powder")
	a.note("calc.fine-dust")
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
		return refuse("weigh", g["weigh"].text, "calc.it-is-under-the-least-2", show(g["least"].mass), show(p.Weigh))
	}
	if off := sub(held, p.Need.Rat()); off.Sign() != 0 {
		return refuse("", "", "calc.the-plan-does-not-deliver-2",
			show(weigh), show(total), show(p.Take), ofGrams(held), howFar(off, p.Need), show(p.Weigh), show(p.Total), show(p.Take))
	}
	if weigh != p.Weigh || total != p.Total {
		return refuse("", "", "calc.the-plan-delivers-but-not", plain(quo(p.Weigh.Rat(), p.Need.Rat())), show(p.Weigh), show(p.Total))
	}
	return nil
}

func howFar(off *big.Rat, need protocol.Mass) text.Message {
	by := percent(new(big.Rat).Abs(quo(off, need.Rat())))
	if off.Sign() < 0 {
		return says("calc.too-little", by)
	}
	return says("calc.too-much", by)
}
