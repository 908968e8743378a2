package session

import (
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/question"
	"tared/session/text"
)

// A potter may use another scale than the sheet named: because it stands nearer,
// or by mistake, or because the next material is meant. A container that stands on
// a scale out of turn is known, but tared for nothing. Powder that runs into it
// says what is meant: where only the material in turn can be meant and the scale
// is good for it, the bench follows; where two can be meant it asks; where the
// scale is not good it says so. Nothing is ever taken there without a word.

// strayLeast is how many steps of powder on a scale out of turn are more than
// dust and draught.
const strayLeast = pan.LeastContainer

// besides notes a container that stands on a scale out of turn. When it left that
// scale heavier, it may have been tipped in between.
func (t *change) besides(p *pan.Pan, slow bool) {
	was := p.Prior()
	p.StandUntared(slow)
	if was == (pan.Prior{}) || was.Before-p.Gross() < p.Steps(strayLeast) || t.s.Lift != nil {
		return
	}
	if i, _ := t.s.current(); i >= 0 && !t.s.Batch.Waits(i) && !t.s.Batch.Steps[i].Over() {
		t.ask(question.LeftElsewhere, p, was.Before, p.Gross(), was.Raw, p.Raw())
	}
}

// due takes a container that stood there before its turn.
func (t *change) due(p *pan.Pan) {
	if !p.Vessel().Untared || p.On() != pan.Container || !p.Settled() || !t.s.atWork() {
		return
	}
	if i, q := t.s.current(); i < 0 || q != p {
		return
	}
	if question.CameSlowly.Raised(p) {
		// It is asked as if it came now.
		p.Forget()
		t.ask(question.CameSlowly, p, p.Gross(), p.Gross(), p.Raw())
		return
	}
	if question.AlreadyFilled.Raised(p) {
		t.ask(question.AlreadyFilled, p, p.Content(), 0, p.Raw())
		return
	}
	p.Stand(p.Gross())
	t.Tare(p, "container")
}

// stray looks whether powder comes into a container on a scale out of turn.
func (t *change) stray(p *pan.Pan) {
	b := t.s.Batch
	if !t.s.open() || !b.Reminded || b.Paused || p.Instrument().Print || p.On() != pan.Container || !p.Usable() {
		return
	}
	i, q := t.s.current()
	switch {
	case i < 0 || q == p || b.Waits(i) || b.Steps[i].Over():
		return
	case p.Gained() >= p.Steps(strayLeast):
		t.cameElsewhere(i, p, q)
	case p.Settled(): // it was taken out again
		p.Settle()
		t.settleQuestion(p.Name(), question.PouredElsewhere)
	}
}

// cameElsewhere judges powder that came onto pan p, while step i is weighed on pan q.
func (t *change) cameElsewhere(i int, p, q *pan.Pan) {
	in := p.Gained()
	if p.Settled() {
		p.Untare()
	}
	// What came at once may be a spoon, or another vessel: it says nothing yet. How it
	// came is not known where lines were read late; then a person is asked once it rests.
	unseen := p.Settled() && p.Unseen()
	if t.s.asked.Question != nil || p.Vessel().Slow || !unseen && (p.Sharp(in) || !p.Rises()) || q != nil && q.On() == pan.Lifted {
		return
	}
	later := t.s.Batch.NextOn(i, p.Name()) >= 0
	l, why := question.Fits(t.s.Batch, i, p)
	switch {
	case why.None() && !later && !unseen && idle(q) && p.Vessel().Mark <= p.Steps(pan.ZeroSlack):
		t.MoveTo(p, l)
	case why.None() || later:
		t.ask(question.PouredElsewhere, p, in, 0, p.Raw())
	case !p.Vessel().Noted && p.Settled():
		p.Note()
		st := t.s.Batch.Steps[i]
		t.Record(fact.Noticed{Scale: p.Name(), What: "wrong-scale", Amount: in, Material: st.Name(), Other: st.Scale, Raw: []string{p.Raw()}})
	}
}

// idle tells that nothing is under way on the pan where the step in work belongs.
func idle(q *pan.Pan) bool {
	return q == nil || q.On() == pan.Empty || q.On() == pan.Container && q.Content().Abs() <= q.Steps(pan.ZeroSlack)
}

// MoveTo has the step in work weighed on the scale that the potter uses.
func (t *change) MoveTo(p *pan.Pan, l fact.Line) {
	st := t.s.Batch.Steps[t.s.Batch.Current()]
	t.Record(fact.Moved{Material: st.Material, From: st.Scale, To: p.Name(), Line: l, Raw: []string{p.Raw()}})
	p.Unmark()
	t.Tare(p, "container")
	t.Tell(text.New("notice.moved", text.Name("material", st.Name()), text.Name("scale", p.Name())))
}

// strayed asks about a container that left a scale out of turn with powder in it, and
// reports whether it did.
func (t *change) strayed(p *pan.Pan) bool {
	b := t.s.Batch
	i, _ := t.s.current()
	if i < 0 || !t.s.atWork() || t.s.Lift != nil || b.Waits(i) || b.Steps[i].Over() || p.Instrument().Print {
		return false
	}
	in := p.LiftedContent() - p.Vessel().Mark
	if a := t.s.aim(i); in < p.Steps(strayLeast) && (in < p.Steps(pan.SameSlack) || in*2 < a.Low) {
		return false
	}
	t.ask(question.LeftElsewhere, p, p.Lift().Before, p.Vessel().Base, p.Lift().Raw)
	t.s.asked.Unsure = !p.Lift().Sure
	return true
}
