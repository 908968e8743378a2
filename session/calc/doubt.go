package calc

import (
	"fmt"

	"tared/protocol"
	"tared/scale"
	"tared/session/doubt"
	"tared/session/sheet"
)

// instrument reads what is known of a scale.
func (g given) instrument() (doubt.Scale, error) {
	s := doubt.Scale{Step: g["step"].mass, Spread: g["spread"].mass, Measured: g.has("spread")}
	switch {
	case g.has("placings") && !g.has("spread"):
		return s, refuse("placings", g["placings"].text, "give the spread that they show as well, for example spread=0.03g")
	case g.has("placings") && g["placings"].n < 2:
		return s, refuse("placings", g["placings"].text, "one placing shows no spread: use 2 or more")
	case g.has("interval") && !g.has("class"):
		return s, refuse("interval", g["interval"].text, "it belongs to a class: give class=III, or whatever the plate of the scale says")
	case (g.has("shown") || g.has("limit")) && !g.has("known"):
		return s, refuse("", "", "give the mass of the known weight as well, for example known=500g")
	case g.has("known") && !g.has("shown"):
		return s, refuse("known", g["known"].text, "give what the scale showed of it, for example shown=500.1g")
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
	a.Words = fmt.Sprintf("A net weight of %s is known to ± %s g.", show(load), u.Doubt())
	a.fact("reading and repeatability", own.Doubt()+" g")
	a.fact("span of the scale", span.Doubt()+" g")
	switch {
	case !s.Vouched():
		a.Notes = append(a.Notes, "Nothing is known of the span: name the class of the scale, or put a known weight on.")
	case s.Check.Failed:
		a.Notes = append(a.Notes, "The known weight was off by more than is allowed: find the cause, or have the scale adjusted, before weighing on.")
	}
	if s.Assumed() {
		a.Notes = append(a.Notes, "The spread was not given: half a step is assumed.")
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
		return Answer{}, refuse("", "", "give what went into the mixture, as weigh=9.6g, or how many times what is needed, as times=8")
	case g.has("weigh"):
		p.Weigh = g["weigh"].mass
	case p.Need <= protocol.OnBench/times:
		p.Weigh = times * p.Need
	}
	p.Total = p.Weigh.Times(p.Take, p.Need)
	if p.Take <= p.Need || p.Weigh < p.Need || p.Total > protocol.OnBench || p.Total < p.Take {
		return Answer{}, refuse("", "", "the part must be more than what is needed of it, and no more than the mixture")
	}
	x := sheet.Mixing
	if g.has("mixing") {
		x = g["mixing"].rat
	}
	u := p.Doubt(s, x)
	var a Answer
	a.Words = fmt.Sprintf("%s of a mixture with %s of the material hold %s ± %s g of it.", show(p.Take), show(p.Weigh), show(p.Need), u.Doubt())
	a.fact("of what is needed", percent(quo(u.Rat(), p.Need.Rat())))
	a.Notes = append(a.Notes, fmt.Sprintf("Of that, the mixing is assumed to be ± %s. A dry mixture is even within ± %s if it was built up in portions, each as much as is there already, and put through a sieve; only stirred, it can be far worse. A clear solution is even within ± %s.",
		percent(x), percent(sheet.Mixing), percent(sheet.Dissolved)))
	a.mass("expanded_uncertainty_g", u)
	return a, nil
}
