package session

import (
	"time"

	"tared/scale"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/question"
	"tared/session/text"
)

// event is what a pan did, and whether the step in work is weighed there.
type event struct {
	p    *pan.Pan
	mine bool
}

// meanings tell what each event of a pan means for the batch.
var meanings = map[pan.Event]func(*change, event){
	pan.PutOn: func(t *change, e event) {
		switch {
		case !t.s.atWork():
		case e.mine:
			t.stood(e.p)
		case !e.p.Instrument().Print:
			t.besides(e.p, false)
		}
	},
	pan.CameSlowly: func(t *change, e event) {
		switch {
		case !t.s.atWork():
		case !e.mine:
			t.besides(e.p, e.p.Prior() == (pan.Prior{})) // else it is one that was emptied
		default:
			t.ask(question.CameSlowly, e.p, e.p.Gross(), e.p.Gross(), e.p.Raw())
		}
	},
	pan.KeyPressed: func(t *change, e event) { t.keyed(e.p) },
	pan.KeyWasLift: (*change).keyWasLift,
	pan.LiftWasKey: func(t *change, e event) {
		// The container never left. Its zero moved, and what came since was poured.
		if l := t.liftOn(e.p); l != nil {
			t.Record(fact.Returned{Material: l.Material, Scale: e.p.Name(), After: e.p.Lift().Before, Raw: []string{e.p.Lift().Raw, e.p.Raw()}})
		}
		t.keyed(e.p)
	},
	pan.ZeroLost: (*change).zeroLost,
	pan.EmptiedOut: func(t *change, e event) {
		if t.s.asked.Scale == e.p.Name() {
			return // that is what is asked about
		}
		e.p.Rebase()
		if e.mine && t.s.open() && !e.p.Vessel().Untared {
			t.Tare(e.p, "container")
		}
	},
	pan.RemainderGone: func(t *change, e event) {
		if t.s.open() {
			t.ask(question.LiftedUnseen, e.p, e.p.Left().Amount, e.p.Gross(), e.p.Raw())
		}
	},
	pan.TakenOff: func(t *change, e event) {
		if t.s.asked.Scale == e.p.Name() {
			// Taken up again with the question still open. It will come back, and is
			// then judged anew.
			l := t.liftOn(e.p)
			if l == nil && t.s.asked.Question == question.LeftInGap {
				return // what went is asked still
			}
			t.settleQuestion(e.p.Name())
			if l != nil {
				liftAgain(e.p, *l)
				return
			}
		}
		t.lifted(e.p, e.mine)
	},
	pan.PutBack:      func(t *change, e event) { t.returned(e.p) },
	pan.TippedUnseen: (*change).tippedUnseen,
	pan.FellUnseen: func(t *change, e event) {
		if q := &t.s.asked; q.Question == question.LeftInGap && q.Scale == e.p.Name() {
			q.After, q.Raw = e.p.Lift().Fell, []string{e.p.Lift().Raw, e.p.Line().Raw} // the display goes on
		}
		if !e.mine || !t.s.open() || t.s.asked.Scale == e.p.Name() {
			return
		}
		i, _ := t.s.current()
		// What was too much is taken out, or was a hand that leant there.
		if over := batch.Beyond(e.p.LiftedContent(), t.s.aim(i).High, t.s.Batch.Steps[i].Grain); !over || e.p.Content() <= e.p.Steps(pan.ZeroSlack) {
			t.ask(question.LeftInGap, e.p, e.p.Lift().Before, e.p.Lift().Fell, e.p.Lift().Raw, e.p.Line().Raw)
		}
	},
	pan.PartlyTipped: func(t *change, e event) {
		if !e.mine || !t.s.open() || t.s.asked.Question != nil {
			t.tippedUnseen(e)
			return
		}
		// Much of it went, and much is still there: only the potter knows where to.
		e.p.Stays()
		t.ask(question.LeftInGap, e.p, e.p.Lift().Before, e.p.Gross(), e.p.Lift().Raw, e.p.Raw())
	},
	pan.Standing: func(t *change, e event) { t.stands(e.p) },
	pan.SeenEmpty: func(t *change, e event) {
		t.settleQuestion(e.p.Name(), question.AfterGap, question.LeftInGap)
		if _, expects := e.p.Expected(); !t.s.open() || !expects {
			e.p.Forget()
		}
	},
	pan.UnitChanged: func(t *change, e event) {
		if t.s.open() {
			t.Record(fact.Noticed{Scale: e.p.Name(), What: "unit", Unit: string(e.p.Line().Unit), Raw: []string{e.p.Raw()}})
			t.Tell(text.New("notice.unit", text.Name("scale", e.p.Name()), text.Name("unit", string(e.p.Line().Unit))))
		}
	},
}

// happened turns what a pan did into what it means for the batch.
func (t *change) happened(p *pan.Pan, h pan.Event) {
	mean := meanings[h]
	if mean == nil {
		return
	}
	e := event{p: p}
	if t.s.open() {
		_, q := t.s.current()
		e.mine = q == p
	}
	mean(t, e)
}

// liftOn gives the lift of the container of a pan; nil: it is not off.
func (t *change) liftOn(p *pan.Pan) *fact.Lifted {
	if t.s.Lift != nil && t.s.Lift.Scale == p.Name() {
		return t.s.Lift
	}
	return nil
}

// keyWasLift takes back that a key was pressed: the container was lifted.
func (t *change) keyWasLift(e event) {
	if !t.s.open() {
		return
	}
	p, b := e.p, t.s.Batch
	t.Record(fact.Noticed{Scale: p.Name(), What: "tare-key", Amount: -p.Key().By, Undone: true, Inferred: p.Key().Inferred, Raw: []string{p.Raw()}})
	if raw := p.Lift().Raw; e.mine && p.LiftedContent() > p.Steps(pan.SameSlack) {
		t.Record(fact.Lifted{Material: b.Steps[b.Current()].Material, Scale: p.Name(), Before: p.Lift().Before, Empty: p.Vessel().Weight, Base: p.Vessel().Base,
			Carried: p.Carried(), Zero: zero(p.Offsets()), Settled: true, Raw: []string{raw}})
		p.TakeUp()
		t.returned(p)
	}
}

// tippedUnseen follows up a container that a print-key scale showed filled and then
// all but empty: it was lifted, tipped and put back between the two frames.
func (t *change) tippedUnseen(e event) {
	t.lifted(e.p, e.mine)
	if t.liftOn(e.p) != nil {
		e.p.TakeUp()
		t.returned(e.p)
	}
}

// stood decides what a container is that stands on the empty pan.
func (t *change) stood(p *pan.Pan) {
	was := p.Prior()
	switch {
	case was == pan.Prior{}:
	case (was.Before-p.Gross()).Abs() <= p.Steps(3) && p.Gross() >= was.Weight-p.Steps(3):
		// The same one, as far as its weight can tell. What clings in it is known.
		p.Stand(min(was.Weight, p.Gross()))
		t.Tare(p, "container")
		return
	case question.LighterContainer.Raised(p):
		t.ask(question.LighterContainer, p, was.Before, p.Gross(), was.Raw, p.Raw())
		return
	}
	p.Stand(p.Gross())
	t.Tare(p, "container")
}

// keyed records that a key of the scale moved its zero.
func (t *change) keyed(p *pan.Pan) {
	if !t.s.open() {
		return
	}
	t.Record(fact.Noticed{Scale: p.Name(), What: "tare-key", Amount: p.Key().By, Inferred: p.Key().Inferred, Raw: []string{p.Raw()}})
	t.Tell(text.New("notice.tare-key", text.Name("scale", p.Name())))
}

// zeroLost follows up a key of the scale that took nobody knows how much: the tare is
// unknown, and the page says how it is found again.
func (t *change) zeroLost(e event) {
	if !t.s.open() {
		e.p.Forget()
		return
	}
	t.settleQuestion(e.p.Name())
	if l := t.liftOn(e.p); l != nil && e.p.On() == pan.Unknown { // it never left
		t.Record(fact.Returned{Material: l.Material, Scale: e.p.Name(), After: e.p.Lift().Before, Raw: []string{e.p.Lift().Raw, e.p.Raw()}})
	}
	t.Record(fact.Noticed{Scale: e.p.Name(), What: "key-in-motion", Raw: []string{e.p.Raw()}})
}

func (t *change) lifted(p *pan.Pan, mine bool) {
	if !t.s.open() {
		p.Forget()
		return
	}
	i, _ := t.s.current()
	in := p.LiftedContent()
	// Two steps and more can be told from the noise of two readings. Where only
	// that much is wanted a single step counts, too: it is right on average.
	little := p.Step()
	if mine {
		if a := t.s.aim(i); a.Target <= p.Steps(pan.LeastContainer) {
			little = min(p.Step(), max(a.Low, 1)) - 1
		}
	}
	if in <= little || !mine || p.Vessel().Untared {
		comes := mine || p.Vessel().Untared
		p.Forget()
		if in > little {
			t.Record(fact.Noticed{Scale: p.Name(), What: "taken-away", Amount: in, Raw: []string{p.Lift().Raw}})
			comes = !t.strayed(p) && comes // asked now, and not when it is back
		}
		if comes {
			p.SetAside()
		}
		return
	}
	t.Record(fact.Lifted{Material: t.s.Batch.Steps[i].Material, Scale: p.Name(), Before: p.Lift().Before, Empty: p.Vessel().Weight, Base: p.Vessel().Base,
		Carried: p.Carried(), Zero: zero(p.Offsets()), Settled: p.Lift().Sure, Raw: []string{p.Lift().Raw}})
}

// returned weighs what came back against what was lifted.
func (t *change) returned(p *pan.Pan) {
	l := t.liftOn(p)
	if l == nil || !t.s.open() {
		p.Forget()
		return
	}
	after, raw := p.Gross(), []string{p.Lift().Raw, p.Raw()}
	drop, in := p.Lift().Before-after, p.LiftedContent()
	ask := func(q *question.Question) {
		p.Stays()
		t.ask(q, p, p.Lift().Before, after, raw...)
	}
	switch {
	case p.Lift().Keyed:
		ask(question.LiftedTooSoon)
	case question.CameBackLighter.Raised(p):
		p.Lightest(after)
		ask(question.CameBackLighter)
	case question.CameBackHeavier.Raised(p):
		ask(question.CameBackHeavier)
	case drop.Abs() <= p.Step() && (p.Lift().Before-t.s.Back).Abs() <= p.Step():
		ask(question.CameBackHeavier) // the same again
	case drop <= p.Step() && (2*drop < in && !p.Knocked() || drop <= 0):
		p.Stays()
		if p.Knocked() {
			p.PourFrom(after, p.Raw()) // it does not come out
		}
		t.Record(fact.Returned{Material: l.Material, Scale: p.Name(), After: after, Raw: raw})
		t.Tell(text.New("notice.untipped"))
	case question.LittleMissing.Raised(p):
		ask(question.LittleMissing)
	case question.LiftedTooSoon.Raised(p):
		ask(question.LiftedTooSoon)
	case !guide.Clings(p.Content(), in, t.s.aim(t.s.Batch.StepOf(l.Material)).Clings, p.Step()):
		ask(question.CameBackPartly)
	default:
		t.Weigh(p, question.Weighing{Before: p.Lift().Before, After: after, How: "tipped", Raw: raw})
		p.Lightest(after)
	}
}

// stands decides what the pan proves after a gap.
func (t *change) stands(p *pan.Pan) {
	before, expects := p.Expected()
	if !t.s.open() || !expects {
		p.Forget()
		return
	}
	_, q := t.s.current()
	same := (p.Gross() - before).Abs() <= p.Steps(pan.SameSlack)
	proven := func(why text.Message) {
		t.settleQuestion(p.Name())
		if t.liftOn(p) != nil { // it was back before the gap, and nobody had said yet what went in
			p.TakeUp()
			t.returned(p)
			return
		}
		p.Stays()
		t.Tare(p, "proven")
		t.Tell(why)
	}
	switch {
	case same && p.Proven(): // the pan was seen empty since the gap, and its zero is known
		proven(text.New("notice.zero-holds"))
	case same && !p.Noted():
		proven(text.New("notice.same-reading"))
	case q != p:
		p.Forget()
	case question.LeftInGap.Raised(p):
		t.ask(question.LeftInGap, p, before, p.Gross(), p.Raw())
		t.s.asked.Unsure = p.AtLeast()
	default:
		if p.Noted() {
			before = p.Vessel().Base
		}
		t.ask(question.AfterGap, p, before, p.Gross(), p.Raw())
	}
}

// poured notes an overpour that still lies in the container, and what else does: as soon
// as some comes, when it rests at twice that, and in the band. After a restart nothing
// else tells what was in it.
func (t *change) poured(p *pan.Pan) {
	if !t.s.atWork() || p.On() != pan.Container || p.Vessel().Untared || !p.Usable() {
		return
	}
	i, q := t.s.current()
	if q != p || t.s.Batch.Steps[i].Over() {
		return
	}
	a, in, noted := t.s.aim(i), p.Content(), t.s.In[p.Name()]
	stands := p.Gross() - t.s.Tares[p.Name()].Container // beyond what the record has the container weigh
	switch first := noted == 0 && stands > p.Steps(pan.ZeroSlack); {
	case !p.Settled() && (!first || p.Flow() <= 0 || stands < p.Steps(pan.LeastContainer)):
	case !t.s.beyond(in, a, t.s.Batch.Steps[i].Grain) || !p.Settled():
		t.s.overAt = 0
		if first || noted > 0 && stands >= 2*noted || noted < a.Low && stands >= a.Low {
			t.Record(fact.Noticed{Scale: p.Name(), What: "standing", Amount: stands, Raw: []string{p.Raw()}})
		}
	case t.s.overAt == 0:
		t.overpoured(t.s.Batch.Steps[i], "container", in, a.Aim, []string{p.Raw()})
		t.s.overAt = t.s.Seq
	}
}

func (t *change) lost(u scale.Update) {
	t.settleQuestion(u.Scale)
	t.s.overAt = 0
	if !t.s.uses(u.Scale) {
		return
	}
	t.put(t.s.Batch.Mark, "tared", fact.Lost{Scale: u.Scale, Port: u.Identity.Port, Why: u.Why})
}

// found follows up a scale that was silent and is heard again.
func (t *change) found(p *pan.Pan, u scale.Update) {
	if !p.Silent() || u.Link != scale.Up || !u.HasMass {
		return
	}
	away := p.Found(t.at)
	if !t.s.uses(p.Name()) {
		if p.On() == pan.Unknown {
			p.Forget()
		}
		return
	}
	tare := "kept"
	if p.On() == pan.Unknown {
		tare = "unknown"
	}
	t.put(t.s.Batch.Mark, "tared", fact.Found{Scale: p.Name(), Port: u.Identity.Port,
		After: away.Round(100 * time.Millisecond).String(), Shows: u.Mass, Tare: tare, Raw: []string{p.Raw()}})
	t.Tell(text.New("notice.back", text.Name("scale", p.Name()), text.Duration("away", away.Round(time.Second))))
}
