package sheet

import (
	"math/big"
	"slices"
	"strconv"
	"strings"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/material"
	"tared/session/text"
)

// eyeSteps are the steps of the balance that is proposed where none such is at
// hand: a pocket balance and, if that is not good enough, a finer one.
var eyeSteps = []protocol.Mass{10 * protocol.Milligram, protocol.Milligram}

// waysOut gives each line that its scale weighs badly what can be done.
func (p *planner) waysOut(base protocol.Mass) {
	for i := range p.lines {
		l := &p.lines[i]
		if l.Verdict == Good {
			continue
		}
		p.finer(l)
		p.byEye(l)
		p.larger(i, base)
		p.dilute(i)
	}
}

func within(good bool, u, limit protocol.Mass) text.Message {
	is, may := u.Against(limit)
	if good {
		return text.New("sheet.within", text.Grams("u", is), text.Grams("limit", may))
	}
	return text.New("sheet.beyond", text.Grams("u", is), text.Grams("limit", may))
}

// finer names every other scale here that would see more.
func (p *planner) finer(l *Line) {
	for i, f := range l.Fits {
		if f.Scale == l.Scale || f.U >= l.U || f.Portions > maxPortions || p.scales[i].Eye {
			continue
		}
		good := f.Verdict == Good
		l.Outs = append(l.Outs, Out{Kind: "finer", Scale: f.Scale, U: f.U, Good: good,
			Words: text.New("sheet.out-finer", text.Name("scale", f.Scale), text.Count("count", f.Portions), text.Said("limit", within(good, f.U, l.Allowed))).String()})
	}
}

// byEye proposes a balance that is read by eye and typed in: the ones at hand
// that see more, or one that could be had.
func (p *planner) byEye(l *Line) {
	for i, f := range l.Fits {
		if p.scales[i].Eye && f.Scale != l.Scale && f.U < l.U && f.Portions <= maxPortions {
			good := f.Verdict == Good
			l.Outs = append(l.Outs, Out{Kind: "eye", Scale: f.Scale, U: f.U, Good: good,
				Words: text.New("sheet.out-eye", text.Name("scale", f.Scale), text.Said("limit", within(good, f.U, l.Allowed))).String()})
		}
	}
	if slices.ContainsFunc(p.scales, func(s measured) bool { return s.Eye && s.Step <= eyeSteps[0] }) {
		return
	}
	var o Out
	for _, step := range eyeSteps {
		U := doubt.Scale{Step: step}.U(0)
		if U >= l.U {
			continue
		}
		good := U <= l.Allowed
		o = Out{Kind: "eye", U: U, Good: good,
			Words: text.New("sheet.out-balance", text.Exact("step", step, 0), text.Said("limit", within(good, U, l.Allowed))).String()}
		if good {
			break
		}
	}
	if o.Kind != "" {
		l.Outs = append(l.Outs, o)
	}
}

// larger finds the batch from which the line's own scale is good, rounded up to
// two figures and proved by working it out again.
func (p *planner) larger(i int, base protocol.Mass) {
	l := &p.lines[i]
	a := p.allowed(i)
	s := p.scales[slices.IndexFunc(p.scales, func(s measured) bool { return s.Name == l.Scale })]
	if a.Share == nil {
		return // a fixed allowance does not grow with the batch
	}
	target, err := over(s.u.Rat(), a.Share)
	for range 8 { // the span grows with what is weighed
		if err == nil {
			target, err = over(s.of(target, 1).Rat(), a.Share)
		}
	}
	if err != nil {
		return
	}
	g := target.Rat()
	if w := p.moist(i); w != nil {
		g.Quo(g.Mul(g, new(big.Rat).Sub(hundred, w)), hundred)
	}
	g.Quo(g.Mul(g, hundred), l.Share)
	b, err := up(g)
	if err != nil {
		return
	}
	for range 40 {
		b = b.TwoDigits()
		t, err := protocol.RoundRat(p.wet(i, g.Quo(g.Mul(b.Rat(), l.Share), hundred)))
		if err != nil {
			return
		}
		f := s.fit(t, a.Of(t))
		if f.Portions > maxPortions {
			return
		}
		if f.Verdict == Good && b > base {
			l.Outs = append(l.Outs, Out{Kind: "larger", Scale: s.Name, Base: b, U: f.U, Good: true,
				Words: text.New("sheet.out-larger", text.Exact("base", b, 0), text.Name("scale", s.Name), text.Said("limit", within(true, f.U, a.Of(t))), text.Mass("target", t, min(t.Places(), s.Step.Places(), f.U.Digits()))).String()})
			return
		}
		b++
	}
}

// carriers are the kinds that take up a colourant well and do not melt away in
// water: silica, clay, feldspar.
var carriers = []material.Kind{material.GlassFormer, material.Clay, material.Feldspar}

// dilute plans an aliquot on the line's own scale, in the largest base material
// that can carry it.
func (p *planner) dilute(i int) {
	l := &p.lines[i]
	if !l.Addition && l.Role != Strong {
		return // a base material is not thinned with another
	}
	c := -1
	for _, kinds := range []bool{true, false} {
		for j, b := range p.lines {
			m := p.known[j]
			if j == i || b.Addition || b.Role != Base || m.Soluble != "" || kinds != slices.Contains(carriers, m.Kind) {
				continue
			}
			if c < 0 || b.Target > p.lines[c].Target {
				c = j
			}
		}
		if c >= 0 {
			break
		}
	}
	if c < 0 {
		return
	}
	k := slices.IndexFunc(p.scales, func(s measured) bool { return s.Name == l.Scale })
	a, ok := p.suit(l.Target, l.Allowed, p.scales[k], p.lines[c].Target)
	if !ok {
		return
	}
	a.Material, a.Carrier, a.Scale = l.Material, p.lines[c].Material, l.Scale
	a.Steps = l.words(a, p.lines[c])
	said := text.New("sheet.out-dilute", text.In("weigh", a.Weigh, l.Unit, l.Step), text.Name("material", a.Material), text.In("dilute", a.Dilute, l.Unit, l.Step), text.Name("carrier", a.Carrier),
		text.In("total", a.Total, l.Unit, l.Step), text.In("take", a.Take-a.Off, l.Unit, l.Step), text.In("less", a.Less-a.Off, l.Unit, l.Step), text.Said("limit", within(a.U <= l.Allowed, a.U, l.Allowed))).String()
	l.Outs = append(l.Outs, Out{Kind: "aliquot", Scale: l.Scale, U: a.U, Good: a.U <= l.Allowed, Aliquot: &a, Words: strings.Join(append([]string{said}, l.near(a)...), " ")})
}

// near says that no part of the mixture is in whole steps, and how far off the nearest is.
func (l Line) near(a Aliquot) []string {
	if a.Off == 0 {
		return nil
	}
	return []string{text.New("sheet.step-near", text.Grams("need", a.Need.Known(a.U)), text.Name("scale", a.Scale), text.In("take", a.Take-a.Off, l.Unit, l.Step),
		text.Grams("off", a.Off.Abs().Times(a.Need, a.Take).Doubt()), text.Name("material", a.Material)).String()}
}

// words are the steps at the bench.
func (l Line) words(a Aliquot, carrier Line) []string {
	s := []string{
		text.New("sheet.step-weigh", text.In("weigh", a.Weigh, l.Unit, l.Step), text.Name("material", a.Material)).String(),
		text.New("sheet.step-carrier", text.In("dilute", a.Dilute, l.Unit, l.Step), text.Name("carrier", a.Carrier), text.In("weigh", a.Weigh, l.Unit, l.Step), text.In("total", a.Total, l.Unit, l.Step)).String(),
	}
	// As much as is there already, so that a little is never lost in a lot.
	there := a.Weigh
	for i, add := range Geometric(a.Weigh, a.Dilute) {
		there += add
		s = append(s, text.New("sheet.step-mix", text.Number("number", strconv.Itoa(i+1)), text.In("add", add, l.Unit, l.Step), text.Name("carrier", a.Carrier), text.In("there", there, l.Unit, l.Step)).String())
	}
	s = append(s, text.New("sheet.step-take", text.In("take", a.Take-a.Off, l.Unit, l.Step), text.Grams("need", a.Need.Known(a.U)), text.Name("material", a.Material), text.In("less", a.Less-a.Off, l.Unit, l.Step), text.Name("carrier", a.Carrier)).String())
	return append(append(s, l.near(a)...),
		text.New("sheet.step-instead", text.In("weigh", carrier.Target-a.Less, carrier.Unit, carrier.Step), text.Name("carrier", a.Carrier), text.In("instead", carrier.Target, carrier.Unit, carrier.Step)).String(),
		text.New("sheet.step-label", text.In("left", a.Total-a.Take+a.Off, l.Unit, l.Step), text.Name("material", a.Material), text.Number("parts", strconv.FormatInt(int64(a.Total/a.Weigh), 10))).String())
}
