package calc

import (
	"tared/protocol"
	"tared/scale"
	"tared/session/doubt"
	"tared/session/sheet"
	"tared/session/text"
)

// instrument reads what is known of a scale.
func (g given) instrument() (doubt.Scale, error) {
	s := doubt.Scale{Step: g["step"].mass, Spread: g["spread"].mass, Measured: g.has("spread")}
	switch {
	case g.has("placings") && !g.has("spread"):
		return s, refuse("placings", g["placings"].text, "calc.give-the-spread-that-they")
	case g.has("placings") && g["placings"].n < 2:
		return s, refuse("placings", g["placings"].text, "calc.one-placing-shows-no-spread")
	case g.has("interval") && !g.has("class"):
		return s, refuse("interval", g["interval"].text, "calc.it-belongs-to-a-class")
	case (g.has("shown") || g.has("limit")) && !g.has("known"):
		return s, refuse("", "", "calc.give-the-mass-of-the")
	case g.has("known") && !g.has("shown"):
		return s, refuse("known", g["known"].text, "calc.give-what-the-scale-showed")
	}
	s.Placings = uint64(g["placings"].n)
	if g.has("class") {
		s.Class, s.Interval = g["class"].class.String(), g["interval"].mass
		if _, err := scale.MPE(g["class"].class, s.E(), 0); err != nil {
			return s, err
		}
	}
	if !g.has("known") {
		return s, nil
	}
	c := scale.Check{Nominal: g["known"].mass, Shown: g["shown"].mass, Step: s.Step, Class: g["class"].class, Interval: s.Interval}
	r, err := c.Run()
	if err != nil {
		return s, err
	}
	if g.has("limit") {
		r.Allowed = g["limit"].mass
	}
	s.Check = doubt.Check{Mass: c.Nominal, Deviation: r.Deviation, Allowed: r.Allowed, Failed: r.Deviation.Abs() > r.Allowed}
	return s, nil
}

func runDoubt(g given) (Answer, error) {
	s, err := g.instrument()
	if err != nil {
		return Answer{}, err
	}
	load := g["load"].mass
	own, span, u := doubt.RootUp(s.Reading()), s.Span(load), s.U(load)
	var a Answer
	a.Words = says("calc.a-net-weight-of-is", show(load), text.Grams("", u.Doubt()))
	a.fact(says("calc.reading-and-repeatability"), says("calc.is", text.Grams("", own.Doubt())))
	a.fact(says("calc.span"), says("calc.is", text.Grams("", span.Doubt())))
	switch {
	case !s.Vouched():
		a.note("calc.span-unknown")
	case s.Check.Failed:
		a.note("calc.check-failed")
	}
	if s.Assumed() {
		a.note("calc.spread-assumed")
	}
	a.mass("reading_g", own)
	a.mass("span_g", span)
	a.mass("expanded_uncertainty_g", u)
	a.text("assumed", s.Assumed())
	return a, nil
}

func runDoubtOfPart(g given) (Answer, error) {
	s, err := g.instrument()
	if err != nil {
		return Answer{}, err
	}
	p := sheet.Aliquot{Need: g["need"].mass, Take: g["take"].mass}
	switch times := protocol.Mass(g["times"].n); {
	case g.has("times") == g.has("weigh"):
		return Answer{}, refuse("", "", "calc.give-what-went-into-the")
	case g.has("weigh"):
		p.Weigh = g["weigh"].mass
	case p.Need <= protocol.OnBench/times:
		p.Weigh = times * p.Need
	}
	p.Total = p.Weigh.Times(p.Take, p.Need)
	if p.Take <= p.Need || p.Weigh < p.Need || p.Total > protocol.OnBench || p.Total < p.Take {
		return Answer{}, refuse("", "", "calc.the-part-must-be-more")
	}
	x := sheet.Mixing
	if g.has("mixing") {
		x = g["mixing"].rat
	}
	u := p.Doubt(s, x)
	var a Answer
	a.Words = says("calc.of-a-mixture-with-of", show(p.Take), show(p.Weigh), show(p.Need), text.Grams("", u.Doubt()))
	a.fact(says("calc.of-needed"), says("calc.is", percent(quo(u.Rat(), p.Need.Rat()))))
	a.note("calc.of-that-the-mixing-is", percent(x), percent(sheet.Mixing), percent(sheet.Dissolved))
	a.mass("expanded_uncertainty_g", u)
	return a, nil
}
