package sheet

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/doubt"
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
			Words: p.tell(text.New("sheet.out-finer", text.Name("scale", f.Scale), text.Count("count", f.Portions), text.Said("limit", within(good, f.U, l.Allowed))))})
	}
}

// byEye proposes a balance that is read by eye and typed in: the ones at hand
// that see more, or one that could be had.
func (p *planner) byEye(l *Line) {
	for i, f := range l.Fits {
		if p.scales[i].Eye && f.Scale != l.Scale && f.U < l.U && f.Portions <= maxPortions {
			good := f.Verdict == Good
			l.Outs = append(l.Outs, Out{Kind: "eye", Scale: f.Scale, U: f.U, Good: good,
				Words: p.tell(text.New("sheet.out-eye", text.Name("scale", f.Scale), text.Said("limit", within(good, f.U, l.Allowed))))})
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
			Words: p.tell(text.New("sheet.out-balance", text.Exact("step", step, 0), text.Said("limit", within(good, U, l.Allowed))))}
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
	s := p.scale(l.Scale)
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
				Words: p.tell(text.New("sheet.out-larger", text.Exact("base", b, 0), text.Name("scale", s.Name), text.Said("limit", within(true, f.U, a.Of(t))), text.Mass("target", t, min(t.Places(), s.Step.Places(), f.U.Digits()))))})
			return
		}
		b++
	}
}
