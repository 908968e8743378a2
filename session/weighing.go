package session

import (
	"math/big"
	"slices"
	"strings"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/derive"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/question"
	"tared/session/text"
)

// What is recorded of a weighing, and what follows from it.

func (t *change) Tare(p *pan.Pan, how string) {
	material := ""
	if i := t.s.Batch.Current(); i >= 0 {
		material = t.s.Batch.Steps[i].Material
	}
	t.s.overAt = 0
	raw := p.Tare()
	t.Record(fact.Tared{Material: material, Scale: p.Name(), Container: p.Vessel().Base, Weight: p.Vessel().Weight, Carried: p.Carried(), Zero: zero(p.Offsets()), How: how, Step: p.Step(), Raw: []string{raw}})
}

// Weigh records what left the container and what follows from it.
func (t *change) Weigh(p *pan.Pan, w question.Weighing) {
	i := t.stepOf(w)
	if i < 0 {
		return
	}
	st := t.s.Batch.Steps[i]
	f := t.portion(i, p, w)
	if p != nil && !t.follows(f, p) {
		p.Stays()
		t.ask(question.Disagree, p, w.Before, w.After, w.Raw...)
		return
	}
	t.Record(f)
	t.s.overAt = 0
	now := t.s.Batch.Steps[i]
	if p != nil {
		t.left(p, w, f.Delivered, st.Name(), now)
	}
	switch {
	case now.Over():
		t.tippedOver(now, "tipped", w.Raw)
		return
	case now.InCup() && now.Delivered > now.High:
		t.tippedOver(now, "cup", w.Raw)
		if st.Part == batch.WeighPart {
			t.Tell(text.New("notice.more-carrier"))
		} else {
			t.Tell(text.New("notice.more-mixture"))
		}
	}
	t.sayTake(now, f.Delivered, f.Step)
	t.Finish()
}

// left decides what a portion left in the container: it clings there, or is still to go
// in.
func (t *change) left(p *pan.Pan, w question.Weighing, got protocol.Mass, material string, now batch.Step) {
	if v := p.Vessel(); w.How == "tipped" && w.After-v.Base <= got/100*guide.MostClings && v.Weight > 0 && v.Clung == 0 {
		t.s.Learnt = t.s.Learnt.Tipped(material, v.Weight, w.After)
	}
	p.Took()
	little := max(p.Steps(pan.ZeroSlack), got/20)
	if w.Left > little && t.s.open() {
		p.LeftBehind(pan.Remainder{Of: t.s.lastTake(), Amount: w.Left, Slack: little, Base: p.Vessel().Base})
	}
	_, low, _ := now.Left()
	switch left := w.After - p.Vessel().Base; {
	case w.How == "tipped" && !now.Done() && left > little:
	case w.How == "tipped" && !now.Done() && left >= low && now.Part == batch.NoPart && !p.Instrument().Print:
		p.Clings(left) // what is missing is in it: it can be knocked out
	default:
		raw := ""
		if n := len(w.Raw); n > 0 {
			raw = w.Raw[n-1]
		}
		p.PourFrom(w.After, raw)
	}
}

// follows reports whether a portion follows from its own lines, as far as they can be
// read. What a person says went in rests on no line.
func (t *change) follows(f fact.Portion, p *pan.Pan) bool {
	if f.How == "typed" || f.How == batch.Unknown {
		return true
	}
	k := derive.Known{Format: t.s.Batch.Scale(f.Scale).Format, Stood: t.s.Tares[f.Scale].Carried, Carried: p.Carried(), Lift: t.liftOn(p)}
	return len(derive.Portion(f, k).Wrong) == 0
}

// stepOf gives the index of the step that is weighed, -1 for none.
func (t *change) stepOf(w question.Weighing) int {
	switch b := t.s.Batch; {
	case w.Of > 0:
		return w.Of - 1
	case t.s.Lift != nil:
		return b.StepOf(t.s.Lift.Material)
	default:
		return b.Current()
	}
}

func (t *change) portion(i int, p *pan.Pan, w question.Weighing) fact.Portion {
	st := t.s.Batch.Steps[i]
	a := t.s.part(i)
	if w.On != "" {
		st.Scale = w.On
	}
	sc := t.s.Batch.Scale(st.Scale)
	f := fact.Portion{Material: st.Material, As: st.As, Into: st.Into(), Scale: st.Scale, Before: w.Before, After: w.After, Delivered: w.Delivered,
		Target: a.Target, Low: a.Low, High: a.High, How: w.How, U: w.U, Step: sc.Step, Remarks: w.Remarks, Other: w.Other, Raw: w.Raw}
	if w.How != "tub" && w.How != "typed" && w.How != batch.Unknown {
		f.Delivered = w.Before - w.After
	}
	if f.Verdict = batch.PortionVerdict(f); f.Verdict == batch.Unknown {
		return f
	}
	if p != nil {
		f.Step = p.Step()
		if w.How != "typed" {
			f.Trace = p.Trace()
			if l := t.liftOn(p); l != nil && l.Carried != p.Carried() {
				carried := p.Carried()
				f.Carried = &carried
			}
		}
	}
	d := sc.Weighs()
	d.Step = f.Step
	if w.How == "typed" {
		// Digits that nobody typed are not known: it counts as read off a coarser scale.
		said := strings.TrimPrefix(w.Raw[len(w.Raw)-1], "typed ")
		if typed, err := typedMass(text.Message{}, said); err == nil && typed.Step > d.Step {
			d.Step, f.Step = typed.Step, typed.Step
		}
	}
	own := d.Reading()
	if f.U != 0 {
		own.SetInt(doubt.AddSquare(nil, f.U))
	}
	if p != nil {
		own.Add(own, keyed(f.Step, p.Key().Count))
	}
	f.Span, f.U = d.Span(f.Delivered), d.With(own, f.Delivered)
	if rule := t.s.Batch.Plan.Rule; rule != "" && a.Part == a.Parts { // what is one of several is judged when all are in
		f.Allowed, f.Rule = t.s.Batch.StepAllowed(st), rule
	}
	f.Verdict = batch.PortionVerdict(f)
	return f
}

// overpoured records that more than the band allows went in.
func (t *change) overpoured(st batch.Step, where string, in protocol.Mass, a guide.Aim, raw []string) {
	t.Record(fact.Overpoured{Material: st.Material, Scale: st.Scale, Where: where, Amount: in, High: a.High,
		Excess: in - a.Target, Strong: st.Role == "strong", Raw: raw})
}

// tippedOver records that all that went into a step is more than its band allows.
func (t *change) tippedOver(st batch.Step, where string, raw []string) {
	t.overpoured(st, where, st.Delivered, guide.Aim{Target: st.Target, High: st.High}, raw)
}

func (t *change) sayTake(st batch.Step, got, step protocol.Mass) {
	switch {
	case st.NotKnown > 0:
		t.Tell(text.New("notice.not-known", text.Name("material", st.Name())))
		return
	case st.Done():
		t.Tell(text.New("notice.in", text.Name("material", st.Name()), text.Exact("amount", st.Delivered, step.Places())))
		return
	}
	left, _, _ := st.Left()
	t.Tell(text.New("notice.partly-in", text.Exact("amount", got, step.Places()), text.Name("material", st.Name()), text.Mass("left", left, step.Places())))
}

// Finish closes the batch when nothing is left to weigh.
func (t *change) Finish() {
	if !t.s.open() || t.s.Batch.Current() >= 0 {
		return
	}
	t.Record(t.s.Batch.Closing(false))
	if !t.nextCup() {
		t.Tell(text.New("notice.complete"))
	}
}

// keyed is what presses of the scale's own tare key add to U²: what each took is known to a
// whole step only, evenly spread, 4·d²/12 (JCGM 100:2008, 4.3.7).
func keyed(step protocol.Mass, keys int) *big.Rat {
	d := new(big.Rat).SetInt(doubt.AddSquare(nil, step))
	return d.Mul(d, big.NewRat(int64(keys), 3))
}

// CorrectLast gives the last portion what seemed to be left in the container, and
// tares what stands there now.
func (t *change) CorrectLast(p *pan.Pan, by protocol.Mass, how string) {
	of := p.Left()
	t.raise(question.Case{})
	b := t.s.Batch
	if k := slices.IndexFunc(b.Takes, func(k batch.Take) bool { return k.Seq == of.Of }); k >= 0 {
		k := b.Takes[k]
		t.Record(fact.Amended{Of: k.Seq, How: how, Material: b.Steps[k.Step].Material, Was: k.Delivered, Is: k.Delivered + by, Raw: []string{p.Raw()}})
	}
	p.Rebase()
	t.Tare(p, "answered")
	t.settleAmended()
}

// settleAmended follows up what a changed portion may have caused.
func (t *change) settleAmended() {
	b := t.s.Batch
	for _, st := range b.Steps {
		if st.Over() {
			t.tippedOver(st, "tipped", nil)
			return
		}
	}
	t.Finish()
}

// standIn counts a lifted container as emptied though it did not come back.
func (t *change) standIn(p *pan.Pan) {
	w := question.Weighing{Before: p.Lift().Before, After: p.Vessel().Base, How: "not-returned", Raw: []string{p.Lift().Raw}, U: question.Doubt(t.s.Batch, p)}
	if !p.Lift().Sure {
		w.How, w.Remarks = "unsettled", []string{"lifted-early", "not-back"}
	}
	t.Weigh(p, w)
	p.Forget()
}
