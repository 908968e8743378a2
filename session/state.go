package session

import (
	"fmt"
	"strings"
	"time"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/guide"
	"tared/session/material"
	"tared/session/sheet"
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

	cue   guide.Cue  // what the hand in work should be told
	stop  guide.Stop // where it was told to stop
	hurry bool       // a pour runs on a scale that speaks slowly: look at the clock more often than its lines come

	asked  question // a question that lives in the pans, not in the journal
	said   []SaidView
	since  time.Time // when the present state word began
	word   string    // the present state word
	overAt uint64    // seq of the overpour-in-container fact of this pour; 0: none
	told   *told     // shared by all that came of this state; it decides nothing
}

// told keeps what a view says of a batch alone, until a fact makes another batch
// of it: a scale speaks far more often than a fact is written.
type told struct {
	of       *batch.Batch
	batch    *BatchView
	reminder *AskedView
	over     *AskedView
}

// anew empties what is kept, for another batch.
func (t *told) anew(of *batch.Batch) *told {
	if t == nil {
		t = &told{}
	}
	*t = told{of: of}
	return t
}

// kept gives what is kept in a place, or makes it and keeps it.
func kept[T any](place **T, make func() *T) *T {
	if *place == nil {
		*place = make()
	}
	return *place
}

// Apply takes one fact into the state. It is the only way in which a batch
// changes, live and in a replay, so both end in the same place.
func (s State) Apply(f fact.Fact) State {
	s.Seq, s.Work = f.Seq, s.Work.Apply(f)
	return s
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

// restorePan puts a pan where the facts left it.
func restorePan(p *pan.Pan, b *batch.Batch) {
	t, ok := b.Tares[p.Name()]
	if !ok {
		return
	}
	p.Restore(pan.Tare{Offsets: offsets(t.Carried, t.Zero), Weight: t.Weight, Base: t.Container, Step: t.Step})
	if b.Lift != nil && b.Lift.Scale == p.Name() {
		liftAgain(p, *b.Lift)
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

// keyed records that a key of the scale moved its zero.
func (t *turn) keyed(p *pan.Pan) {
	if !t.s.open() {
		return
	}
	words := fmt.Sprintf("The %s scale was tared by its own key: %s g is carried on.", p.Name(), p.KeyTook().Grams(places(p.Step())))
	if p.KeyTook() < 0 {
		words = fmt.Sprintf("The %s scale gave up its own tare of %s g.", p.Name(), (-p.KeyTook()).Grams(places(p.Step())))
	}
	if p.KeyInferred() {
		words = "Inferred, not seen: " + strings.ToLower(words[:1]) + words[1:]
	}
	t.emit(fact.Noticed{Scale: p.Name(), What: "tare-key", Amount: p.KeyTook(), Inferred: p.KeyInferred(), Raw: []string{p.Raw()}, Words: words})
	t.say("Tare key seen on the %s scale. Go on: its zero is carried.", p.Name())
}

// liftAgain puts a pan where the lift of its container left it.
func liftAgain(p *pan.Pan, l fact.Lifted) {
	raw := ""
	if len(l.Raw) > 0 {
		raw = l.Raw[0]
	}
	p.RestoreLift(pan.Lift{Offsets: offsets(l.Carried, l.Zero), Weight: l.Empty, Base: l.Base, Before: l.Before, Sure: l.Settled, Raw: raw})
}

// NewState is a bench with these scales and nothing on them known.
func NewState(scales []sheet.Scale) State {
	s := State{told: &told{}}
	for _, sc := range scales {
		if !sc.Eye {
			s.Pans = append(s.Pans, pan.New(sc.Name, sc.Max, sc.Step))
		}
	}
	return s
}
