package session

import (
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/material"
	"tared/session/question"
	"tared/session/sheet"
	"tared/session/text"
)

// State is all that the bench knows. Treat it as a value: Next never changes
// the one it is given.
type State struct {
	Seq        uint64 // of the last fact
	batch.Work        // the batch in work, and its series

	Table *material.Table // of materials; nil: the embedded one
	Pans  []pan.Pan       // one for each scale, in the user's order
	Now   time.Time

	Learnt guide.Learnt // of operators, from their own stops

	asked  question.Case // what a pan raised; it is not in the journal
	meant  string        // a word that is asked about before it is carried out; empty: none
	behind string        // what was behind it
	said   []Notice
	since  time.Time  // when the present state word began
	word   string     // the present state word
	overAt uint64     // seq of the overpour-in-container fact of this pour; 0: none
	cue    guide.Cue  // what the hand in work should be told
	told   guide.Told // what it reads, which stands long enough to be read
	stop   guide.Stop // where it was told to stop
	blind  string     // notRecording: no hand must go on, and nothing that a pan shows counts; else empty
	hurry  bool       // a pour runs on a scale that speaks slowly: look at the clock more often than its lines come
	cache  *cache     // shared by all that came of this state; it decides nothing
}

// cache keeps what is made of a batch alone, until a fact makes another batch of it: a
// scale speaks far more often than a fact is written.
type cache struct {
	of   *batch.Batch
	kept [shelves]any // a *lastMade each
}

// shelf is where one thing is kept.
type shelf int

const (
	batchShelf shelf = iota
	weighingShelf
	askedShelf
	keysShelf
	learntShelf
	shelves
)

// lastMade is what was made last, and what it was made of beside the batch.
type lastMade[K comparable, V any] struct {
	of K
	is V
}

// kept gives what is kept of the batch, or makes it and keeps it.
func kept[K comparable, V any](s *State, on shelf, of K, make func(K) V) V {
	if s.cache == nil {
		s.cache = &cache{}
	}
	c := s.cache
	if c.of != s.Batch {
		*c = cache{of: s.Batch}
	}
	l, ok := c.kept[on].(*lastMade[K, V])
	if !ok || l.of != of {
		l = &lastMade[K, V]{of, make(of)}
		c.kept[on] = l
	}
	return l.is
}

// pan gives the pan of a scale; nil when there is none (a scale read by eye).
func (s *State) pan(name string) *pan.Pan {
	for i := range s.Pans {
		if s.Pans[i].Name() == name {
			return &s.Pans[i]
		}
	}
	return nil
}

// NewState is a bench with these scales and nothing on them known.
func NewState(scales []sheet.Scale) State {
	s := State{cache: &cache{}}
	for _, sc := range scales {
		if !sc.Eye {
			s.Pans = append(s.Pans, pan.New(sc.Name, sc.Max, sc.Step))
		}
	}
	return s
}

// Aim is what one weighing should reach.
type Aim struct {
	guide.Aim
	Part, Parts int
	Clings      protocol.Mass // so much of it is for what clings to the container
}

// Why the bench is blind: it cannot tell what hands do, or not record it, so it guides
// none. The codes are those of NowView.Blind.
const (
	notRecording = "recording"
	anotherScale = "another-scale"
)

// blindOf gives the code where recording is broken, for that reason.
func blindOf(broken string) string {
	if broken == "" {
		return ""
	}
	return notRecording
}

// blindness tells why the bench is blind; empty: it is not, or asks about it.
func (s *State) blindness() string {
	if s.blind == "" && s.meant != "same" && s.other() != nil {
		return anotherScale
	}
	return s.blind
}

// other gives the first pan of the batch in work on whose line another scale speaks.
func (s *State) other() *pan.Pan {
	for i := range s.Pans {
		if p := &s.Pans[i]; p.Other().Is && s.uses(p.Name()) {
			return p
		}
	}
	return nil
}

// open tells whether a batch is in work.
func (s *State) open() bool { return s.Batch != nil && !s.Batch.Finished }

// atWork tells whether hands on the pan of the step in work count now.
func (s *State) atWork() bool {
	return s.open() && s.blindness() == "" && s.Batch.Reminded && !s.Batch.Paused && s.asked.Question == nil
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

// aim gives what the hands should reach in the weighing that step i needs next: its
// part, and what clings to the container beyond that.
func (s *State) aim(i int) Aim {
	a, st := s.part(i), &s.Batch.Steps[i]
	if p := s.pan(st.Scale); p != nil && a.Part == a.Parts && (p.On() == pan.Container || p.On() == pan.Lifted) {
		v := p.Vessel()
		a.Aim, a.Clings = s.Learnt.Allow(a.Aim, st.Name(), st.Role == "strong", v.Weight, v.Base)
	}
	return a
}

// part gives the target of the weighing that step i needs next, as the record has it.
func (s *State) part(i int) Aim {
	st := &s.Batch.Steps[i]
	target, low, high := st.Left()
	a := Aim{Aim: guide.Aim{Target: target, Low: low, High: high}, Part: st.Portions + 1, Parts: st.Portions + 1}
	room := s.Batch.Scale(st.Scale).Max
	step := s.Batch.Scale(st.Scale).Step
	if p := s.pan(st.Scale); p != nil {
		if p.On() == pan.Container || p.On() == pan.Lifted {
			room -= p.Vessel().Weight
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

// uses tells whether the open batch weighs on this scale.
func (s *State) uses(name string) bool {
	if s.open() {
		for i := range s.Batch.Steps {
			if s.Batch.Steps[i].Scale == name {
				return true
			}
		}
	}
	return false
}

// state gives the word for what the bench waits for.
func (s *State) state() string {
	b := s.Batch
	switch {
	case b == nil:
		return "idle"
	case b.Finished:
		return "finished"
	case s.blindness() != "":
		return "blind"
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
	case b.Steps[i].Over() || s.asked.Question != nil || s.meant != "" || b.Waits(i):
		return "decide"
	case p == nil:
		return "pour"
	case p.Instrument().Link == scale.Lost, p.On() == pan.Unknown, p.Unproven():
		return "lost"
	case p.On() == pan.Empty, p.On() == pan.Container && p.Vessel().Untared:
		return "container"
	case p.On() == pan.Lifted:
		return "lifted"
	case p.Line().Status == protocol.Overload:
		return "over"
	case !p.Usable():
		return "pour"
	}
	return s.howFar(s.aim(i), b.Steps[i].Grain, p)
}

// howFar tells how far the pour on a pan has come. A step of flicker at a mark does not
// change the word: what rested under the low mark must come a step over it, unless that
// is what is shown as the target.
func (s *State) howFar(a Aim, grain protocol.Mass, p *pan.Pan) string {
	in, low := p.Content(), a.Low
	runs := false
	switch {
	case s.word != "pour":
	case p.AtRest() && !p.Instrument().Print:
		low = max(low, min(low+p.Step(), a.Target-p.Step()/2))
	default: // on to the middle of the band, until the hand is told to stop
		runs = p.Flow() > p.Step()/2 && in < a.Target && s.cue != guide.StopNow
	}
	switch {
	case (in < low || runs) && !p.Falls():
		return "pour"
	case !p.AtRest():
		return "settle"
	case s.beyond(in, a, grain):
		return "over"
	}
	return "in"
}

// beyond reports whether too much is in, and whoever was told so a step under where that
// began.
func (s *State) beyond(in protocol.Mass, a Aim, grain protocol.Mass) bool {
	if s.word == "over" {
		in += max(grain, 1)
	}
	return batch.Beyond(in, a.High, grain)
}

func (s *State) lastTake() uint64 {
	if n := len(s.Batch.Takes); n > 0 {
		return s.Batch.Takes[n-1].Seq
	}
	return 0
}

// Apply takes one fact into the state. It is the only way in which a batch
// changes, live and in a replay, so both end in the same place.
func (s State) Apply(f fact.Fact) State {
	s.Seq, s.Work = f.Seq, s.Work.Apply(f)
	return s
}

// restorePan puts a pan where the facts left it.
func restorePan(p *pan.Pan, c batch.Containers) {
	t, ok := c.Tares[p.Name()]
	if !ok {
		return
	}
	p.Restore(pan.Tare{Offsets: offsets(t.Carried, t.Zero), Weight: t.Weight, Base: t.Container, In: c.In[p.Name()], Step: t.Step})
	if c.Lift != nil && c.Lift.Scale == p.Name() {
		liftAgain(p, *c.Lift)
	}
}

// offsets reads off a fact why the zero of a scale moved, and zero writes it there.
func offsets(carried protocol.Mass, z fact.Zero) pan.Offsets {
	o := pan.Offsets{pan.Key: z.Key, pan.Drift: z.Drift, pan.Object: z.Object, pan.Inferred: z.Inferred}
	o[pan.Earlier] = carried - o.Sum()
	return o
}

func zero(o pan.Offsets) fact.Zero {
	return fact.Zero{Key: o[pan.Key], Drift: o[pan.Drift], Object: o[pan.Object], Inferred: o[pan.Inferred]}
}

// liftAgain puts a pan where the lift of its container left it.
func liftAgain(p *pan.Pan, l fact.Lifted) {
	raw := ""
	if len(l.Raw) > 0 {
		raw = l.Raw[0]
	}
	p.RestoreLift(pan.Lift{Offsets: offsets(l.Carried, l.Zero), Weight: l.Empty, Base: l.Base, Before: l.Before, Sure: l.Settled, Raw: raw})
}

// reset forgets what stands on the pans, for a batch that begins.
func (s *State) reset() {
	for i := range s.Pans {
		s.Pans[i].Reset()
	}
}

// idleNow keeps what lies in all containers when a step begins: it tells nothing
// of that step.
func (s *State) idleNow() {
	for i := range s.Pans {
		if p := &s.Pans[i]; p.On() == pan.Container {
			p.Mark()
		}
	}
}

// turnOf names the weighing in work, so that a change of it can be seen.
func (s *State) turnOf() string {
	if i := s.Batch.Current(); i >= 0 {
		return s.Batch.Mark + " " + s.Batch.Steps[i].Material
	}
	return ""
}

// Notice is something that was said and needs no answer.
type Notice struct {
	At   time.Time    `json:"at"`
	Says text.Message `json:"says"`
}
