package session

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/sheet"
	"tared/session/text"
)

// Input is one thing that reaches the bench: an update of a scale, a command of
// a person, or, when both are nil, a tick of the clock.
type Input struct {
	At      time.Time
	Update  *scale.Update
	Command *Command
}

// question is one that the pan raised. Questions that follow from the facts
// (the reminder, an overpour) are not kept here: they are read off the batch.
type question struct {
	kind   string // "", tare, gone, lighter, swapped, heavier, thing, crept, unsettled, little, which, early, strayed
	scale  string
	before protocol.Mass
	after  protocol.Mass
	raw    []string
	unsure bool // before had not settled
}

// notReturned is how long a lifted container may stay away before its own
// weight stands in for what it would have weighed coming back.
const notReturned = 90 * time.Second

// Aim is what one weighing should reach.
type Aim struct {
	guide.Aim
	Part, Parts int
}

// Next is the machine: what follows from one input. It returns the new state
// and the facts to record before that state counts. The error is a Refusal of
// a command; the state is then as it was.
func Next(s State, in Input) (State, []fact.Fact, error) {
	t := turn{s: s, at: in.At}
	t.s.Pans = slices.Clone(s.Pans)
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
	t.guide(in)
	if w := t.s.state(); w != t.s.word {
		t.s.word, t.s.since = w, in.At
	}
	return t.s, t.facts, nil
}

// turn is one call of Next at work.
type turn struct {
	s     State
	at    time.Time
	by    string // who acts; empty: the operator
	facts []fact.Fact
}

// emit records a fact and lets it act at once.
func (t *turn) emit(body fact.Body) {
	by := t.by
	mark := ""
	if b := t.s.Batch; b != nil {
		mark = b.Mark
		if by == "" {
			by = b.By
		}
	}
	t.put(mark, by, body)
}

func (t *turn) put(mark, by string, body fact.Body) {
	f := fact.Fact{Seq: t.s.Seq + 1, At: t.at, Batch: mark, By: by, Body: body}
	t.facts = append(t.facts, f)
	t.s = t.s.Apply(f)
}

// say tells the potter something that needs no answer.
func (t *turn) say(format string, args ...any) {
	t.s.said = append([]SaidView{{t.at, text.Written(fmt.Sprintf(format, args...))}}, t.s.said[:min(len(t.s.said), 4)]...)
}

// open tells whether a batch is in work.
func (s *State) open() bool { return s.Batch != nil && !s.Batch.Finished }

// atWork tells whether hands on the pan of the step in work count now.
func (s *State) atWork() bool {
	return s.open() && s.Batch.Reminded && !s.Batch.Paused && s.asked.kind == ""
}

// current gives the step in work and its pan; the pan is nil for a scale read
// by eye.
func (s *State) current() (int, *pan.Pan) {
	i := s.Batch.Current()
	if i < 0 {
		return -1, nil
	}
	if s.Batch.Waits(i) {
		return i, nil // hands are at the cup, not at a scale
	}
	return i, s.pan(s.Batch.Steps[i].Scale)
}

// aim gives the target of the weighing that step i needs next.
func (s *State) aim(i int) Aim {
	st := s.Batch.Steps[i]
	target, low, high := st.Left()
	a := Aim{guide.Aim{Target: target, Low: low, High: high}, st.Portions + 1, st.Portions + 1}
	room := s.Batch.Scale(st.Scale).Max
	step := s.Batch.Scale(st.Scale).Step
	if p := s.pan(st.Scale); p != nil {
		if p.On() == pan.Container || p.On() == pan.Lifted {
			room -= p.Weight()
		}
		step = p.Step()
	}
	if room > 0 && target > room {
		n := int((target + room - 1) / room)
		a.Parts = st.Portions + n
		a.Target = target / protocol.Mass(n)
		if step > 0 {
			a.Target -= a.Target % step
		}
		// All but the last portion may be anything that fits: the last aims at
		// what is left.
		a.Low = a.Target - (st.Target - st.Low)
		a.High = min(room, low-1)
	}
	return a
}

// --- updates

func (t *turn) update(u scale.Update) {
	p := t.s.pan(u.Scale)
	if p == nil {
		return
	}
	was := p.Link()
	// A silent scale may be one that went to sleep and will wake with another zero.
	silent := u.Stale || u.Link == scale.Waiting && !u.HasReading
	if !p.Silent() && (was == scale.Up && silent || u.Link == scale.Lost && (was == scale.Up || t.uses(u.Scale))) {
		p.Gap(t.at)
		t.lost(u)
	}
	h := p.Hear(u)
	if p.Silent() && u.Link == scale.Up && u.HasMass {
		t.found(p, u)
	}
	t.happened(p, h)
	if q := t.s.asked; q.kind == "little" && q.scale == p.Name() && p.On() == pan.Container && p.Settled() && (p.Gross()-q.before).Abs() <= p.Step() && t.s.Batch.Lift != nil {
		// It was pushed to the centre, and weighs what it weighed.
		q.after, q.raw = p.Gross(), []string{q.raw[0], p.Raw()}
		t.untipped(p, q)
	}
	t.due(p)
	t.stray(p)
	t.over(p)
}

// uses tells whether the open batch weighs on this scale.
func (t *turn) uses(name string) bool {
	return t.s.open() && slices.ContainsFunc(t.s.Batch.Steps, func(st batch.Step) bool { return st.Scale == name })
}

func (t *turn) lost(u scale.Update) {
	if t.s.asked.scale == u.Scale {
		t.s.asked = question{}
	}
	t.s.overAt = 0
	if !t.uses(u.Scale) {
		return
	}
	t.put(t.s.Batch.Mark, "tared", fact.Lost{Scale: u.Scale, Port: u.Identity.Port, Why: u.Why})
}

func (t *turn) found(p *pan.Pan, u scale.Update) {
	away := p.Found(t.at)
	if !t.uses(p.Name()) {
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
	t.say("The %s scale is back after %s.", p.Name(), away.Round(time.Second))
}

// happened turns what a pan did into what it means for the batch.
func (t *turn) happened(p *pan.Pan, h pan.Event) {
	if h == pan.None {
		return
	}
	mine := false
	if t.s.open() {
		_, q := t.s.current()
		mine = q == p
	}
	switch h {
	case pan.PutOn:
		switch {
		case !t.s.atWork():
		case mine:
			t.stood(p)
		case !p.Print():
			t.besides(p, false)
		}
	case pan.CameSlowly:
		switch {
		case !t.s.atWork():
		case !mine:
			t.besides(p, p.Prior() == (pan.Prior{})) // else it is one that was emptied
		default:
			t.s.asked = question{kind: "crept", scale: p.Name(), before: p.Gross(), after: p.Gross(), raw: []string{p.Raw()}}
		}
	case pan.KeyPressed:
		t.keyed(p)
	case pan.KeyWasLift:
		if !t.s.open() {
			return
		}
		t.emit(fact.Noticed{Scale: p.Name(), What: "tare-key", Amount: -p.KeyTook(), Inferred: p.KeyInferred(), Raw: []string{p.Raw()},
			Words: fmt.Sprintf("What was taken for the tare key of the %s scale was a lift of the container: nothing is carried for it.", p.Name())})
		if raw := p.LiftRaw(); mine && p.Before()-p.Base() > p.Steps(pan.SameSlack) {
			b := t.s.Batch
			t.emit(fact.Lifted{Material: b.Steps[b.Current()].Material, Scale: p.Name(), Before: p.Before(), Empty: p.Weight(), Base: p.Base(),
				Carried: p.Carried(), Zero: zero(p.Offsets()), Settled: true, Raw: []string{raw}})
			p.TakeUp()
			t.returned(p)
		}
	case pan.LiftWasKey:
		// The container never left. Its zero moved, and what came since was poured.
		if b := t.s.Batch; b != nil && b.Lift != nil && b.Lift.Scale == p.Name() {
			t.emit(fact.Returned{Material: b.Lift.Material, Scale: p.Name(), After: p.Before(), Raw: []string{p.LiftRaw(), p.Raw()}})
		}
		t.keyed(p)
	case pan.EmptiedOut:
		if t.s.asked.scale == p.Name() {
			return // that is what is asked about
		}
		p.Rebase()
		if mine && t.s.open() && !p.Untared() {
			t.tared(p, "container")
		}
	case pan.RemainderGone:
		if t.s.open() {
			t.s.asked = question{kind: "thing", scale: p.Name(), before: p.Left().Amount, after: p.Gross(), raw: []string{p.Raw()}}
		}
	case pan.TakenOff:
		if t.s.asked.scale == p.Name() {
			// Taken up again with the question still open. It will come back, and is
			// then judged anew.
			t.s.asked = question{}
			if b := t.s.Batch; b != nil && b.Lift != nil && b.Lift.Scale == p.Name() {
				liftAgain(p, *b.Lift)
				return
			}
		}
		t.lifted(p, mine)
	case pan.PutBack:
		t.returned(p)
	case pan.TippedUnseen, pan.PartlyTipped:
		t.printedBack(p, mine, h)
	case pan.Standing:
		t.stands(p)
	case pan.SeenEmpty:
		if t.s.asked.scale == p.Name() && (t.s.asked.kind == "tare" || t.s.asked.kind == "gone") {
			t.s.asked = question{}
		}
		if _, expects := p.Expected(); !t.s.open() || !expects {
			p.Forget()
		}
	case pan.UnitChanged:
		if t.s.open() {
			t.emit(fact.Noticed{Scale: p.Name(), What: "unit", Raw: []string{p.Raw()},
				Words: fmt.Sprintf("The %s scale now shows %s; it is converted exactly.", p.Name(), p.Unit())})
			t.say("The %s scale now shows %s. It is converted exactly; set it back to grams when you can.", p.Name(), p.Unit())
		}
	}
}

// stood decides what a container is that stands on the empty pan.
func (t *turn) stood(p *pan.Pan) {
	was := p.Prior()
	switch {
	case was == pan.Prior{}:
	case (was.Before-p.Gross()).Abs() <= p.Steps(3) && p.Gross() >= was.Weight-p.Steps(3):
		// The same one, as far as its weight can tell. What clings in it is known.
		p.Stand(min(was.Weight, p.Gross()))
		t.tared(p, "container")
		return
	case p.Gross() < was.Before:
		// Another container, or the same one, filled before it was tared and
		// tipped since: the two look alike.
		t.s.asked = question{kind: "lighter", scale: p.Name(), before: was.Before, after: p.Gross(), raw: []string{was.Raw, p.Raw()}}
		return
	}
	p.Stand(p.Gross())
	t.tared(p, "container")
}

func (t *turn) tared(p *pan.Pan, how string) {
	material := ""
	if i := t.s.Batch.Current(); i >= 0 {
		material = t.s.Batch.Steps[i].Material
	}
	t.s.overAt = 0
	raw := p.Tare()
	t.emit(fact.Tared{Material: material, Scale: p.Name(), Container: p.Base(), Weight: p.Weight(), Carried: p.Carried(), Zero: zero(p.Offsets()), How: how, Step: p.Step(), Raw: []string{raw}})
}

func (t *turn) lifted(p *pan.Pan, mine bool) {
	if !t.s.open() {
		p.Forget()
		return
	}
	i, _ := t.s.current()
	in := p.Before() - p.Base()
	// Two steps and more can be told from the noise of two readings. Where only
	// that much is wanted a single step counts, too: it is right on average.
	little := p.Step()
	if mine {
		if a := t.s.aim(i); a.Target <= p.Steps(pan.LeastContainer) {
			little = min(p.Step(), max(a.Low, 1)) - 1
		}
	}
	if in <= little || !mine || p.Untared() {
		comes := mine || p.Untared()
		p.Forget()
		if in > little {
			t.emit(fact.Noticed{Scale: p.Name(), What: "taken-away", Amount: in, Raw: []string{p.LiftRaw()},
				Words: fmt.Sprintf("A container with %s g in it left the %s scale when nothing was being weighed there.", in.Grams(places(p.Step())), p.Name())})
			comes = !t.strayed(p) && comes // asked now, and not when it is back
		}
		if comes {
			p.SetAside()
		}
		return
	}
	t.emit(fact.Lifted{Material: t.s.Batch.Steps[i].Material, Scale: p.Name(), Before: p.Before(), Empty: p.Weight(), Base: p.Base(),
		Carried: p.Carried(), Zero: zero(p.Offsets()), Settled: p.Sure(), Raw: []string{p.LiftRaw()}})
}

// returned weighs what came back against what was lifted.
func (t *turn) returned(p *pan.Pan) {
	b := t.s.Batch
	if b == nil || b.Finished || b.Lift == nil || b.Lift.Scale != p.Name() {
		p.Forget()
		return
	}
	l := *b.Lift
	after, raw := p.Gross(), []string{p.LiftRaw(), p.Raw()}
	slack := p.Steps(3)
	drop, in := p.Before()-after, p.Before()-p.Base()
	switch {
	case after-p.ZeroOff() < p.Weight()-slack:
		// Lighter than it was when it was tared: powder was in it then and went with
		// the rest, or it is another one.
		p.Stays()
		p.Lightest(after)
		t.s.asked = question{kind: "swapped", scale: p.Name(), before: p.Before(), after: after, raw: raw}
	case drop < -max(slack, in/20) && (p.Sure() || -drop > p.Steps(pan.LeastContainer)):
		p.Stays()
		t.s.asked = question{kind: "heavier", scale: p.Name(), before: p.Before(), after: after, raw: raw}
	case drop <= p.Step() && (2*drop < in || drop <= 0):
		p.Stays()
		t.emit(fact.Returned{Material: l.Material, Scale: p.Name(), After: after, Raw: raw})
		t.say("Put back with nothing tipped: go on. If it is empty, press A and it is tared anew.")
	case p.Sure() && drop <= slack && drop*20 <= in:
		// So little may be missing because it stands off the centre of the pan.
		p.Stays()
		t.s.asked = question{kind: "little", scale: p.Name(), before: p.Before(), after: after, raw: raw}
	case !p.Sure():
		p.Stays()
		t.s.asked = question{kind: "unsettled", scale: p.Name(), before: p.Before(), after: after, raw: raw}
	default:
		t.portion(p, portion{before: p.Before(), after: after, how: "tipped", raw: raw})
		p.Lightest(after)
		if left := after - l.Base; p.On() == pan.Container && left > max(p.Steps(pan.ZeroSlack), in/20) && t.s.open() {
			p.LeftBehind(pan.Remainder{Of: t.s.lastTake(), Amount: left, Slack: max(p.Steps(pan.ZeroSlack), in/20), Base: l.Base})
			t.say("%s g came back in the container. If this is another, empty one, press A.", left.Grams(places(p.Step())))
		}
	}
}

// portion is a weighing about to be recorded.
type portion struct {
	before, after protocol.Mass
	how           string
	words         string
	raw           []string
	u             protocol.Mass // 0: from the scale
	delivered     protocol.Mass // set for tub and typed; else before less after
	of            int           // index of its step and one; 0: the one in work
	on            string        // scale; empty: that of the step
}

// portion records what left the container and what follows from it.
func (t *turn) portion(p *pan.Pan, w portion) {
	b := t.s.Batch
	i := b.Current()
	if b.Lift != nil {
		i = b.StepOf(b.Lift.Material)
	}
	if w.of > 0 {
		i = w.of - 1
	}
	if i < 0 {
		return
	}
	st := b.Steps[i]
	a := t.s.aim(i)
	if w.on != "" {
		st.Scale = w.on
	}
	sc := b.Scale(st.Scale)
	step := sc.Step
	if p != nil {
		step = p.Step()
	}
	got := w.delivered
	if w.how != "tub" && w.how != "typed" {
		got = w.before - w.after
	}
	verdict := "in"
	if got < a.Low {
		verdict = "under"
	} else if got > a.High {
		verdict = "over"
	}
	u := w.u
	if u == 0 {
		u = netU(step, sc.Spread)
	}
	if p != nil {
		u = keyedU(u, step, p.Keys())
	}
	poured := ""
	if p != nil && w.how != "typed" {
		poured = p.Trace()
	}
	t.emit(fact.Portion{Material: st.Material, As: st.As, Into: st.Into(), Scale: st.Scale, Before: w.before, After: w.after, Delivered: got,
		Target: a.Target, Low: a.Low, High: a.High, Verdict: verdict, How: w.how, U: u, Step: step, Words: w.words, Raw: w.raw, Trace: poured})
	t.s.overAt = 0
	if p != nil {
		p.Took()
		left := w.after - p.Base()
		now := t.s.Batch.Steps[i]
		if !(w.how == "tipped" && !now.Done() && left > max(p.Steps(pan.ZeroSlack), got/20)) {
			raw := ""
			if n := len(w.raw); n > 0 {
				raw = w.raw[n-1]
			}
			p.PourFrom(w.after, raw)
		}
	}
	now := t.s.Batch.Steps[i]
	if now.Over() {
		t.emit(fact.Overpoured{Material: st.Material, Scale: st.Scale, Where: "tipped", Amount: now.Delivered, High: now.High,
			Excess: now.Delivered - now.Target, Strong: st.Role == "strong", Raw: w.raw})
		return
	}
	if now.InCup() && now.Delivered > now.High {
		t.emit(fact.Overpoured{Material: st.Material, Scale: st.Scale, Where: "cup", Amount: now.Delivered, High: now.High,
			Excess: now.Delivered - now.Target, Strong: st.Role == "strong", Raw: w.raw})
		if st.Part == batch.WeighPart {
			t.say("Too much, and nothing is lost: more of the carrier goes to it.")
		} else {
			t.say("Too much, and nothing is lost: more of the mixture is taken.")
		}
	}
	t.sayTake(now, got, step)
	t.finish()
}

// sayTake tells what a take came to.
func (t *turn) sayTake(st batch.Step, got, step protocol.Mass) {
	if st.Done() {
		t.say("%s is in: %s g.", name(st), st.Delivered.Grams(places(step)))
		return
	}
	left, _, _ := st.Left()
	t.say("%s g of %s is in; %s g still to go.", got.Grams(places(step)), name(st), left.Rounded(places(step)))
}

// finish closes the batch when nothing is left to weigh.
func (t *turn) finish() {
	if !t.s.open() || t.s.Batch.Current() >= 0 {
		return
	}
	t.emit(t.s.Batch.Closing(false))
	if !t.nextCup() {
		t.say("The batch is complete.")
	}
}

// stands decides what the pan proves after a gap.
func (t *turn) stands(p *pan.Pan) {
	before, expects := p.Expected()
	if !t.s.open() || !expects {
		p.Forget()
		return
	}
	_, q := t.s.current()
	switch {
	case (p.Gross() - before).Abs() <= p.Steps(pan.SameSlack):
		p.Stays()
		if t.s.asked.scale == p.Name() {
			t.s.asked = question{}
		}
		t.tared(p, "proven")
		t.say("The pan shows what it showed before the gap: the tare holds.")
	case p.Proven() && p.Gross() >= p.Base()-p.Steps(pan.SameSlack) && p.Gross() >= before-p.Steps(pan.SameSlack):
		// The pan was seen empty since the gap and its zero is known, so the weight
		// of the container still holds.
		p.Stays()
		if t.s.asked.scale == p.Name() {
			t.s.asked = question{}
		}
		t.tared(p, "proven")
		t.say("The pan was empty and stood at zero: the tare holds.")
	case q != p:
		p.Forget()
	case before-p.Base() > p.Steps(3) && p.Gross() < before-p.Steps(pan.SameSlack):
		t.s.asked = question{kind: "gone", scale: p.Name(), before: before, after: p.Gross(), raw: []string{p.Raw()}}
	default:
		t.s.asked = question{kind: "tare", scale: p.Name(), before: before, after: p.Gross(), raw: []string{p.Raw()}}
	}
}

// over notes an overpour that still lies in the container.
func (t *turn) over(p *pan.Pan) {
	if !t.s.atWork() || p.On() != pan.Container || !p.Settled() || !p.Usable() {
		return
	}
	i, q := t.s.current()
	if q != p || t.s.Batch.Steps[i].Over() {
		return
	}
	a := t.s.aim(i)
	in := p.Content()
	if in <= a.High {
		t.s.overAt = 0
		return
	}
	if t.s.overAt != 0 {
		return
	}
	st := t.s.Batch.Steps[i]
	t.emit(fact.Overpoured{Material: st.Material, Scale: p.Name(), Where: "container", Amount: in, High: a.High,
		Excess: in - a.Target, Strong: st.Role == "strong", Raw: []string{p.Raw()}})
	t.s.overAt = t.s.Seq
}

// --- time

func (t *turn) tick() {
	if !t.s.open() || t.s.Batch.Lift == nil || t.s.Batch.Paused {
		return
	}
	p := t.s.pan(t.s.Batch.Lift.Scale)
	if p == nil || p.On() != pan.Lifted || !p.Live(t.at) || t.at.Sub(t.s.Batch.At) < notReturned {
		return
	}
	if !p.Sure() || p.Print() { // nobody hears whether it is back before its key is pressed
		return
	}
	if !p.Rested() {
		return // the pan was not seen at rest since, so nobody knows what is on it
	}
	if p.Gapped() && p.Usable() && p.Gross() >= p.Steps(pan.LeastContainer) {
		return // something is back, and is not weighed before the zero is proven
	}
	t.standIn(p)
}

// standIn counts a lifted container as emptied though it did not come back.
func (t *turn) standIn(p *pan.Pan) {
	words := "The container did not come back; its own weight stands in."
	how := "not-returned"
	if !p.Sure() {
		words = "It was lifted before the scale had settled, and did not come back; its own weight stands in."
		how = "unsettled"
	}
	t.portion(p, portion{before: p.Before(), after: p.Base(), how: how, words: words, raw: []string{p.LiftRaw()}, u: t.doubt(p)})
	p.Forget()
}

// keyedU adds what each press of the scale's own tare key leaves unknown: what
// it took is known to a whole step only, evenly spread, u² = d²/12 (JCGM
// 100:2008, 4.3.7).
func keyedU(u, step protocol.Mass, keys int) protocol.Mass {
	if keys == 0 {
		return u
	}
	sum := sheet.AddSquare(nil, u)
	for range keys {
		// 4 d²/12, for U = 2u.
		sq := new(big.Int).Mul(big.NewInt(int64(step)), big.NewInt(int64(step)))
		sum.Add(sum, sq.Div(sq, big.NewInt(3)))
	}
	return protocol.Mass(sum.Sqrt(sum).Int64())
}

// u is the U of one net weight on a pan.
func (t *turn) u(p *pan.Pan) protocol.Mass {
	return netU(p.Step(), t.s.Batch.Scale(p.Name()).Spread)
}

// doubt is the U of a portion whose weight before the lift was not settled:
// what the reading still moved, on top of the usual. 0 when it was settled.
func (t *turn) doubt(p *pan.Pan) protocol.Mass {
	if p.Sure() {
		return 0
	}
	return t.u(p) + (p.Before()-p.Base()).Abs()/20
}

// --- commands

func (t *turn) command(c Command) error {
	t.by = strings.TrimSpace(c.By)
	if c.Word == "relearn" {
		return t.relearn(c.Rest)
	}
	if !t.s.open() {
		if c.Word == "note" && t.s.Batch != nil {
			return t.note(c)
		}
		return refuse("no batch is in work: start one on the sheet page, or with `tared weigh`")
	}
	b := t.s.Batch
	switch c.Word {
	case "note":
		return t.note(c)
	case "pause":
		if b.Paused {
			return refuse("the batch is paused already: `resume` goes on")
		}
		t.emit(fact.Paused{Why: c.Rest})
		return nil
	case "resume":
		if !b.Paused {
			return refuse("the batch is not paused")
		}
		t.emit(fact.Resumed{Why: c.Rest})
		return nil
	case "by":
		if c.Rest == "" {
			return refuse("`by` needs a name behind it: by Mara")
		}
		t.by = c.Rest
		t.emit(fact.Decided{Question: "operator", Answer: c.Rest})
		t.say("%s weighs from here on.", c.Rest)
		return nil
	case "anew":
		return t.anew(c)
	case "abandon":
		if c.Rest == "" {
			return refuse("`abandon` closes the batch unfinished and needs a reason behind it: abandon wrong bag of quartz")
		}
		t.emit(fact.Noted{Text: c.Rest})
		t.emit(b.Closing(true))
		t.s.asked = question{}
		if !batch.ClosesSeries(c.Rest) {
			t.nextCup()
		}
		return nil
	}
	if b.Paused {
		if c.Word == "yes" {
			t.emit(fact.Resumed{})
			return nil
		}
		return refuse("the batch is paused: `resume` goes on")
	}
	if !b.Reminded {
		return t.reminded(c)
	}
	i, p := t.s.current()
	if i < 0 {
		return refuse("nothing is left to weigh in this batch")
	}
	if k := b.Unconfirmed(); k >= 0 && !b.Steps[i].Over() && c.Word != "undo" {
		return t.confirmed(k, c)
	}
	if b.Unmixed(i) && t.s.asked.kind == "" && (c.Word == "yes" || c.Word == "done") {
		return t.mixed(i, c)
	}
	switch c.Word {
	case "yes":
		return refuse("nothing waits for a yes now")
	case "undo":
		return t.undo(c)
	case "skip":
		return t.skip(i, c)
	case "substitute":
		if c.Rest == "" {
			return refuse("`substitute` needs the name of what goes in instead: substitute Potash feldspar")
		}
		st := b.Steps[i]
		if st.Part == batch.TakePart {
			return refuse("%s is mixed already: undo what is in it first, or skip it", st.Material)
		}
		t.emit(fact.Decided{Question: "material", Answer: "substitute", Material: st.Material, With: c.Rest})
		return nil
	}
	if b.Steps[i].Over() {
		return t.overpour(i, c)
	}
	if t.s.asked.kind != "" {
		return t.answer(c)
	}
	if b.Unmixed(i) {
		return refuse("first the cup is mixed: answer `yes` when no streak shows")
	}
	switch c.Word {
	case "typed":
		return t.typed(i, p, c)
	case "done":
		return t.done(i, p)
	case "again":
		return t.again(p)
	case "enlarge", "keep":
		return refuse("there is no overpour to decide: %q fits when one was tipped", c.Word)
	}
	return refuse("%q is not a word the bench knows: yes, done, skip, undo, pause, resume, note, typed, substitute, by, keep, enlarge, again, abandon", c.Word)
}

func (t *turn) note(c Command) error {
	if c.Rest == "" {
		return refuse("`note` needs words behind it: note the whiting was damp")
	}
	t.emit(fact.Noted{Text: c.Rest})
	return nil
}

func (t *turn) reminded(c Command) error {
	if c.Word != "yes" {
		return refuse("first the mask and the ventilation: answer `yes` and your name")
	}
	who := c.Rest
	if who == "" {
		who = t.by
	}
	if who == "" {
		who = t.s.Batch.By
	}
	if who == "" {
		return refuse("who says so? Answer `yes` and your name: yes Mara")
	}
	t.by = who
	t.emit(fact.Reminded{Words: reminderLines(t.s.Batch, t.s.Table), Answer: "yes"})
	return nil
}

// mixed takes a person's word that a mixing cup is mixed.
func (t *turn) mixed(i int, c Command) error {
	b := t.s.Batch
	st := b.Steps[i]
	if b.Mixes[st.Mix].From != "" {
		t.emit(fact.Decided{Question: "mix", Answer: "yes", Material: st.Material, Words: c.Rest})
		return nil
	}
	weigh, dilute, _ := b.CupSteps(st.Mix)
	d := max(places(b.Scale(weigh.Scale).Step), places(b.Scale(dilute.Scale).Step))
	words := fmt.Sprintf("%s g of %s in %s g of %s; %s g of the mixture are to go in", weigh.Delivered.Grams(d), b.MaterialOf(*weigh),
		dilute.Delivered.Grams(d), b.MaterialOf(*dilute), st.Target.Rounded(d))
	if c.Rest != "" {
		words += "; " + c.Rest
	}
	t.emit(fact.Decided{Question: "mix", Answer: "yes", Material: st.Material, Words: words})
	return nil
}

func (t *turn) undo(c Command) error {
	b := t.s.Batch
	if len(b.Takes) == 0 {
		return refuse("nothing has been taken in this batch yet, so there is nothing to undo")
	}
	k := b.Takes[len(b.Takes)-1]
	why := c.Rest
	if why == "" {
		why = "undone at the bench"
	}
	t.emit(fact.Amended{Of: k.Seq, Reason: why, Material: b.Steps[k.Step].Material, Was: k.Delivered, Is: 0, Void: true})
	t.s.asked = question{}
	t.say("The last take no longer counts: %s of %s.", k.Delivered, name(b.Steps[k.Step]))
	return nil
}

func (t *turn) skip(i int, c Command) error {
	st := t.s.Batch.Steps[i]
	if st.Over() {
		return refuse("%s is in already, and over: answer `keep`, `enlarge` or `undo`", name(st))
	}
	t.emit(fact.Decided{Question: "material", Answer: "skip", Material: st.Material, Words: c.Rest, Amount: st.Delivered})
	t.s.asked = question{}
	if p := t.s.pan(st.Scale); p != nil && p.On() == pan.Container && p.Content() > p.Steps(pan.ZeroSlack) {
		p.Untare() // what is in it is none of the next material
	}
	t.finish()
	return nil
}

// overpour answers the question that a tipped overpour raises.
func (t *turn) overpour(i int, c Command) error {
	b := t.s.Batch
	st := b.Steps[i]
	switch c.Word {
	case "keep":
		t.emit(fact.Decided{Question: "overpour", Answer: "keep", Material: st.Material, Amount: st.Delivered - st.Target, Words: c.Rest})
		t.finish()
		return nil
	case "enlarge":
		if st.IsWater() {
			return refuse("water cannot be taken out and calls for no larger batch: answer `keep` or `undo`")
		}
		e, err := b.Enlarge()
		if err != nil {
			return refuse("%v", err)
		}
		e.Because = st.Material
		t.emit(fact.Decided{Question: "overpour", Answer: "enlarge", Material: st.Material, Amount: st.Delivered - st.Target, Words: c.Rest})
		t.emit(e)
		t.finish()
		return nil
	}
	if st.IsWater() {
		return refuse("too much %s was tipped: answer `keep` or `undo`", name(st))
	}
	return refuse("too much %s was tipped: answer `enlarge`, `keep`, `anew` or `undo`", name(st))
}

// answer carries out a word for a question that the pan raised.
func (t *turn) answer(c Command) error {
	q := t.s.asked
	p := t.s.pan(q.scale)
	i, _ := t.s.current()
	switch q.kind {
	case "which", "early", "strayed":
		if slices.Contains(answerWords(t.s.View()), c.Word) {
			return t.besideAnswer(q, p, c.Word)
		}
	}
	switch q.kind + " " + c.Word {
	case "tare keep":
		t.emit(fact.Decided{Question: "tare", Answer: "keep", Material: t.s.Batch.Steps[i].Material, Amount: p.Content()})
		p.Stays()
		t.s.asked = question{}
		t.tared(p, "answered")
	case "tare again":
		t.emit(fact.Decided{Question: q.kind, Answer: "again", Material: t.s.Batch.Steps[i].Material})
		p.Stand(p.Gross())
		t.s.asked = question{}
		t.tared(p, "answered")
	case "tare done":
		if q.before-p.Base() <= p.Steps(3) {
			return refuse("nothing had been poured before the gap: answer keep or again")
		}
		t.s.asked = question{}
		p.Stays()
		t.portion(p, portion{before: q.before, after: p.Base(), how: "unsettled", raw: q.raw, u: t.u(p) + p.Step(),
			words: "It was tipped while the scale could not be heard; the weight before is the last one heard, its own weight stands in for the one after."})
		p.Stand(p.Gross())
		if t.s.open() {
			t.tared(p, "answered")
		}
	case "gone again":
		t.emit(fact.Decided{Question: q.kind, Answer: "again", Material: t.s.Batch.Steps[i].Material, Amount: q.before - q.after})
		t.s.asked = question{}
		p.Stays()
		t.tared(p, "answered")
	case "gone keep":
		t.emit(fact.Decided{Question: "gone", Answer: "keep", Material: t.s.Batch.Steps[i].Material, Amount: q.before - q.after})
		t.s.asked = question{}
		p.Stays()
		t.portion(p, portion{before: q.before, after: q.after, how: "unsettled", raw: q.raw, u: t.u(p) + p.Step(),
			words: "It was tipped while the scale could not be heard; the weight before is the last one heard."})
	case "lighter keep":
		t.s.asked = question{}
		p.Stand(p.Gross())
		t.portion(p, portion{before: q.before, after: q.after, how: "tipped", raw: q.raw,
			words: "It was poured before the container was tared; both weights had settled."})
		if t.s.open() {
			t.tared(p, "container")
		}
	case "lighter again":
		t.emit(fact.Decided{Question: "lighter", Answer: "again", Material: t.s.Batch.Steps[i].Material, Amount: q.before - q.after})
		t.s.asked = question{}
		p.Stand(p.Gross())
		t.tared(p, "answered")
	case "swapped keep":
		t.s.asked = question{}
		t.portion(p, portion{before: q.before, after: q.after, how: "tipped", raw: q.raw, u: t.doubt(p),
			words: "It came back lighter than it was tared: what had been in it went in, too."})
		p.Lightest(q.after)
	case "swapped again", "heavier again":
		t.s.asked = question{}
		t.another(p, q)
	case "heavier keep":
		t.emit(fact.Returned{Material: t.s.Batch.Lift.Material, Scale: p.Name(), After: q.after, Raw: q.raw})
		t.s.asked = question{}
		p.Stays()
	case "thing keep":
		t.emit(fact.Decided{Question: "thing", Answer: "keep", Material: t.s.Batch.Steps[i].Material, Amount: q.before,
			Words: "It was powder, and was taken out of the container."})
		t.s.asked = question{}
		p.Rebase()
		t.tared(p, "answered")
	case "thing again":
		t.correct(p, p.Left().Base+p.Left().Amount-p.Gross(), "something that lay on the pan counted as powder left in the container")
	case "little keep":
		t.s.asked = question{}
		t.portion(p, portion{before: q.before, after: q.after, how: "tipped", raw: q.raw})
	case "little again":
		t.untipped(p, q)
	case "crept keep":
		t.emit(fact.Decided{Question: "crept", Answer: "keep", Material: t.s.Batch.Steps[i].Material, Amount: q.after})
		t.s.asked = question{}
		p.StandFilled()
		t.tared(p, "answered")
	case "crept again":
		t.emit(fact.Decided{Question: "crept", Answer: "again", Material: t.s.Batch.Steps[i].Material})
		t.s.asked = question{}
		p.Stand(p.Gross())
		t.tared(p, "answered")
	case "unsettled keep":
		t.s.asked = question{}
		t.portion(p, portion{before: q.before, after: q.after, how: "unsettled", raw: q.raw, u: t.doubt(p),
			words: "It was lifted before the scale had settled; the weight before is the highest that was shown."})
	case "unsettled again":
		t.emit(fact.Decided{Question: "lifted", Answer: "again", Material: t.s.Batch.Steps[i].Material,
			Words: "Nothing of it went into the batch."})
		t.s.asked = question{}
		p.Stays()
	case "unsettled typed":
		m, err := protocol.ParseMass(c.Rest)
		if err != nil || m <= 0 {
			return refuse("`typed` needs the amount that went in, with its unit: typed 12.3g")
		}
		t.s.asked = question{}
		t.portion(p, portion{before: q.before, after: q.after, how: "typed", raw: append(q.raw, "typed "+c.Rest), delivered: m,
			words: "It was lifted before the scale had settled; the amount was typed in."})
	default:
		return refuse("the bench asks about the %s scale first: answer %s", q.scale, strings.Join(answerWords(t.s.View()), ", "))
	}
	return nil
}

// untipped records that what was lifted came back as it was.
func (t *turn) untipped(p *pan.Pan, q question) {
	t.emit(fact.Returned{Material: t.s.Batch.Lift.Material, Scale: p.Name(), After: q.after, Raw: q.raw})
	t.s.asked = question{}
	p.Stays()
}

// another takes what stands on the pan for another container; that of the one
// that left stands in for what it would have weighed coming back.
func (t *turn) another(p *pan.Pan, q question) {
	how, u := "not-returned", protocol.Mass(0)
	if !p.Sure() {
		how, u = "unsettled", t.doubt(p)
	}
	t.portion(p, portion{before: q.before, after: p.Base(), how: how, raw: q.raw, u: u,
		words: fmt.Sprintf("Another container came back (%s g); the weight of the first one stands in.", q.after.Grams(places(p.Step())))})
	p.Stand(p.Gross())
	if t.s.open() {
		t.tared(p, "container")
	}
}

// correct gives the last portion what seemed to be left in the container, and
// tares what stands there now.
func (t *turn) correct(p *pan.Pan, by protocol.Mass, why string) {
	of := p.Left()
	t.s.asked = question{}
	b := t.s.Batch
	if k := slices.IndexFunc(b.Takes, func(k batch.Take) bool { return k.Seq == of.Of }); k >= 0 {
		k := b.Takes[k]
		t.emit(fact.Amended{Of: k.Seq, Reason: why, Material: b.Steps[k.Step].Material, Was: k.Delivered, Is: k.Delivered + by, Raw: []string{p.Raw()}})
	}
	p.Rebase()
	t.tared(p, "answered")
	t.settleAmended()
}

// settleAmended follows up what a changed portion may have caused.
func (t *turn) settleAmended() {
	b := t.s.Batch
	for _, st := range b.Steps {
		if st.Over() {
			t.emit(fact.Overpoured{Material: st.Material, Scale: st.Scale, Where: "tipped", Amount: st.Delivered, High: st.High,
				Excess: st.Delivered - st.Target, Strong: st.Role == "strong"})
			return
		}
	}
	t.finish()
}

// lastTake gives the seq of the last portion that counts.
func (s *State) lastTake() uint64 {
	if n := len(s.Batch.Takes); n > 0 {
		return s.Batch.Takes[n-1].Seq
	}
	return 0
}

// typed takes an amount that a person read off a scale.
func (t *turn) typed(i int, p *pan.Pan, c Command) error {
	st := t.s.Batch.Steps[i]
	if p != nil {
		return refuse("%s is weighed on the %s scale, which tared reads itself; `typed` is for a scale read by eye", name(st), st.Scale)
	}
	m, err := protocol.ParseMass(c.Rest)
	if err != nil {
		return refuse("%v", err)
	}
	sc := t.s.Batch.Scale(st.Scale)
	if m <= 0 {
		return refuse("%s is not an amount that can have gone in", m)
	}
	if sc.Step > 0 && m%sc.Step != 0 {
		return refuse("%s is finer than the %s scale shows (steps of %s): type the digits as they stand on it", m, st.Scale, sc.Step)
	}
	if sc.Max > 0 && m > sc.Max {
		return refuse("%s is more than the %s scale holds (%s)", m, st.Scale, sc.Max)
	}
	t.portion(nil, portion{before: m, after: 0, delivered: m, how: "typed", raw: []string{"typed " + c.Rest}})
	return nil
}

// done is the key for what hands cannot show: a tub that stays on the pan, a
// container that will not come back, a container that the scale already tared.
func (t *turn) done(i int, p *pan.Pan) error {
	st := t.s.Batch.Steps[i]
	switch {
	case p == nil:
		return refuse("type what the %s scale shows: typed 12.3g", st.Scale)
	case p.On() == pan.Lifted:
		t.standIn(p)
		return nil
	case !p.Live(t.at) || p.On() == pan.Unknown:
		return refuse("the %s scale says nothing that can be counted now", st.Scale)
	case !p.AtRest():
		return refuse("the %s scale has not settled: wait a moment", st.Scale)
	case p.On() == pan.Empty, p.Untared():
		p.Stand(p.Gross())
		t.tared(p, "answered")
		return nil
	case p.Content() <= 0:
		return refuse("nothing has been poured since the tare")
	}
	rest, raw := p.Rest()
	t.portion(p, portion{before: p.Base(), after: rest, delivered: rest - p.Base(), how: "tub", raw: []string{raw}})
	return nil
}

// again starts the pour over: what stands on the pan now is the container.
func (t *turn) again(p *pan.Pan) error {
	if p == nil || p.On() != pan.Container {
		return refuse("there is no container on the pan to start again with")
	}
	if !p.AtRest() {
		return refuse("the scale has not settled: wait a moment")
	}
	if p.Left().Amount != 0 {
		// What looked like powder left in the container is the weight of another one.
		t.correct(p, p.Left().Amount, "another container came back, and its weight counted as powder left in it")
		if !t.s.open() {
			return nil
		}
		p.Stand(p.Gross())
		return nil
	}
	p.Stand(p.Gross())
	t.tared(p, "answered")
	return nil
}

// --- state words

// state gives the word for what the bench waits for.
func (s *State) state() string {
	b := s.Batch
	switch {
	case b == nil:
		return "idle"
	case b.Finished:
		return "finished"
	case b.Paused:
		return "paused"
	case !b.Reminded:
		return "reminder"
	}
	i, p := s.current()
	if i < 0 {
		return "finished"
	}
	switch {
	case b.Steps[i].Over() || s.asked.kind != "" || b.Waits(i):
		return "decide"
	case p == nil:
		return "pour"
	case p.Link() == scale.Lost, p.On() == pan.Unknown, p.On() == pan.Lifted && p.Gapped() && !p.Proven():
		return "lost"
	case p.On() == pan.Empty, p.On() == pan.Container && p.Untared():
		return "container"
	case p.On() == pan.Lifted:
		return "lifted"
	case p.Status() == protocol.Overload:
		return "over"
	case !p.Usable():
		return "pour"
	}
	a := s.aim(i)
	in := p.Content()
	rest := p.AtRest()
	switch {
	case in < a.Low:
		return "pour"
	case !rest:
		return "settle"
	case in > a.High:
		return "over"
	}
	return "in"
}
