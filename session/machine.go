package session

import (
	"time"

	"tared/scale"
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/question"
)

// notReturned is how long a lifted container may stay away before its own
// weight stands in for what it would have weighed coming back.
const notReturned = 90 * time.Second

// Next is the machine: what follows from one input. It returns the new state
// and the facts to record before that state counts. The error is a refusal of
// a command; the state is then as it was.
func Next(s State, in Input) (State, []fact.Fact, error) {
	t := change{s: s, at: in.At}
	t.s.Pans = append(in.room[:0], s.Pans...)
	t.s.Now = in.At
	var err error
	switch {
	case in.Update != nil:
		t.update(*in.Update)
	case in.Command != nil:
		err = t.command(*in.Command)
	default:
		t.tick()
	}
	if err != nil {
		return s, nil, err
	}
	if t.s.Batch != s.Batch && t.s.open() && t.s.turnOf() != s.turnOf() {
		t.s.idleNow()
	}
	if len(t.facts) > 0 {
		t.s.meant = "" // what happened since may have changed what it would do
	}
	t.guide(in)
	if w := t.s.state(); w != t.s.word {
		t.s.word, t.s.since = w, in.At
	}
	return t.s, t.facts, nil
}

// --- updates

func (t *change) update(u scale.Update) {
	p := t.s.pan(u.Scale)
	if p == nil {
		return
	}
	if t.s.blind == notRecording {
		p.Hear(u) // nobody could record what it means
		return
	}
	was := p.Instrument().Link
	// A silent scale may be one that went to sleep and will wake with another zero.
	silent := u.Stale || u.Link == scale.Waiting && !u.HasReading
	if !p.Silent() && (was == scale.Up && silent || u.Link == scale.Lost && (was == scale.Up || t.s.uses(u.Scale))) {
		p.Gap(t.at)
		t.lost(u)
	}
	h, known := t.hear(p, u)
	if !known {
		return
	}
	t.found(p, u)
	t.happened(p, h)
	if q := t.s.asked; q.Question == question.LittleMissing && q.Scale == p.Name() && p.On() == pan.Container && p.Settled() &&
		(p.Gross()-q.Before).Abs() <= p.Step() && t.s.Lift != nil {
		// It was pushed to the centre, and weighs what it weighed.
		t.settleQuestion(p.Name())
		t.Record(fact.Returned{Material: t.s.Lift.Material, Scale: p.Name(), After: p.Gross(), Raw: []string{q.Raw[0], p.Raw()}})
		p.Stays()
	}
	t.due(p)
	t.stray(p)
	t.poured(p)
}

// hear has the pan hear an update. It is not known where another scale speaks in its
// place: cables were swapped, or its settings were changed.
func (t *change) hear(p *pan.Pan, u scale.Update) (e pan.Event, known bool) {
	was := p.Other().Is
	e = p.Hear(u)
	switch {
	case !p.Other().Is:
		return e, true
	case !t.s.uses(u.Scale): // nothing rests on what was here
		p.Same()
		return p.Hear(u), true
	case was:
		return e, false
	case !p.Silent():
		p.Gap(t.at)
	}
	t.settleQuestion(u.Scale)
	t.s.overAt = 0
	t.put(t.s.Batch.Mark, "tared", fact.Noticed{Scale: u.Scale, What: anotherScale, Raw: []string{pan.Printable(u.Reading.Raw)}})
	return e, false
}

// --- time

func (t *change) tick() {
	if !t.s.open() || t.s.blindness() != "" || t.s.Lift == nil || t.s.Batch.Paused {
		return
	}
	p := t.s.pan(t.s.Lift.Scale)
	if p == nil || p.On() != pan.Lifted || !p.Live(t.at) || t.at.Sub(t.s.Batch.At) < notReturned {
		return
	}
	if !p.Lift().Sure || p.Instrument().Print { // nobody hears whether it is back before its key is pressed
		return
	}
	if !p.Lift().Rested {
		return // the pan was not seen at rest since, so nobody knows what is on it
	}
	if p.Lift().Gapped && p.Usable() && p.Gross() >= p.Steps(pan.LeastContainer) {
		return // something is back, and is not weighed before the zero is proven
	}
	t.standIn(p)
}
