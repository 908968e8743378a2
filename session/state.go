package session

import (
	"math/big"
	"slices"
	"time"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/sheet"
)

// longBreak is the pause after which mask and ventilation are asked for again
// (common practice, no source).
const longBreak = 30 * time.Minute

// State is all that the bench knows. Treat it as a value: Next never changes
// the one it is given.
type State struct {
	Seq   uint64 // of the last fact
	Batch *Batch // nil: none yet
	Run   *Run   // the series that Batch belongs to; nil: none

	Table *material.Table // of materials; nil: the embedded one
	Pans  []pan.Pan       // one for each scale, in the user's order
	Now   time.Time

	// React holds the reaction times of operators, learnt from their own stops.
	React map[string]time.Duration
	Sway  map[string]time.Duration // how far those were off, on the whole

	asked  question // a question that lives in the pans, not in the journal
	said   []SaidView
	since  time.Time // when the present state word began
	word   string    // the present state word
	overAt uint64    // seq of the overpour-in-container fact of this pour; 0: none
	told   *told     // shared by all that came of this state; it decides nothing
}

// Batch is one batch as far as the facts tell it.
type Batch struct {
	Mark     string
	Title    string
	Plan     fact.Planned
	Base     protocol.Mass
	Dry      protocol.Mass
	By       string
	Lines    []fact.Line // the materials of the recipe with their targets
	Steps    []Step      // the weighings, in order
	Mixes    []Mix
	Reminded bool
	Paused   bool
	Finished bool
	Early    bool      // closed before everything was in
	At       time.Time // of the last fact
	Takes    []Take    // portions that count, oldest first
	Lift     *fact.Lifted
	First    string                // material that is weighed before its turn
	Tares    map[string]fact.Tared // last tare of each scale

	givenUp bool // the last note says that the whole series was closed
	anew    bool // a person said that it is closed and begun once more
}

// told keeps what a view says of a batch alone, until a fact makes another batch
// of it: a scale speaks far more often than a fact is written.
type told struct {
	of       *Batch
	batch    *BatchView
	reminder *AskedView
	over     *AskedView
}

// anew empties what is kept, for another batch.
func (t *told) anew(of *Batch) *told {
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

// Step is one weighing of the batch: a material, or what an aliquot needs.
type Step struct {
	fact.Line
	Part      Part // of mixture Mix
	Mix       int
	As        string // substitute
	Delivered protocol.Mass
	U2        *big.Int // sum of the squares of its portions' U, in ng²
	Portions  int
	Named     string // the scale that the sheet named, where it was moved to another
	Skipped   bool
	Kept      bool // over, and kept so
	Typed     bool
}

// Take is one portion that can be undone.
type Take struct {
	Seq       uint64
	Step      int
	Delivered protocol.Mass
	U         protocol.Mass
	By        string
	Asks      bool // a second person has not looked yet
}

// Over tells whether more than the high mark went in and nobody has decided yet.
// In a mixing cup nothing is over: what follows is made to fit.
func (s Step) Over() bool { return s.Delivered > s.High && !s.Kept && !s.Skipped && !s.cup() }

// Done tells whether the step needs nothing more.
func (s Step) Done() bool {
	return s.Skipped || s.Kept || s.Delivered >= s.Low && (s.Delivered <= s.High || s.cup())
}

// Left is what is still to go in: target and marks less what is in already.
func (s Step) Left() (target, low, high protocol.Mass) {
	return s.Target - s.Delivered, s.Low - s.Delivered, s.High - s.Delivered
}

// step gives the index of the step in work, -1 when there is none.
func (b *Batch) step() int {
	if b == nil || b.Finished {
		return -1
	}
	for i, s := range b.Steps {
		if s.Over() {
			return i
		}
	}
	if k := b.unconfirmed(); k >= 0 {
		return b.Takes[k].Step
	}
	if b.First != "" {
		if i := b.index(b.First); i >= 0 && !b.Steps[i].Done() {
			return i
		}
	}
	for i, s := range b.Steps {
		if !s.Done() {
			return i
		}
	}
	return -1
}

func (b *Batch) index(material string) int {
	return slices.IndexFunc(b.Steps, func(s Step) bool { return s.Material == material })
}

func (b *Batch) clone() *Batch {
	c := *b
	c.Steps = slices.Clone(b.Steps)
	c.Takes = slices.Clone(b.Takes)
	c.Lines = slices.Clone(b.Lines)
	c.Mixes = slices.Clone(b.Mixes)
	t := make(map[string]fact.Tared, len(b.Tares))
	for k, v := range b.Tares {
		t[k] = v
	}
	c.Tares = t
	return &c
}

// Apply takes one fact into the state. It is the only way in which a batch
// changes, live and in a replay, so both end in the same place.
func (s State) Apply(f fact.Fact) State {
	s.Seq = f.Seq
	if p, ok := f.Body.(fact.Planned); ok {
		s.Batch = opened(f, p)
		s.Run = s.Run.planned(f, p)
		return s
	}
	if s.Batch == nil || f.Batch != s.Batch.Mark {
		return s
	}
	b := s.Batch.clone()
	s.Batch = b
	switch v := f.Body.(type) {
	case fact.Reminded:
		b.Reminded = true
		b.By = f.By
	case fact.Tared:
		b.Tares[v.Scale] = v
	case fact.Noticed:
		if t, ok := b.Tares[v.Scale]; ok && v.What == "tare-key" {
			t.Carried += v.Amount
			b.Tares[v.Scale] = t
		}
	case fact.Lifted:
		b.Lift = &v
	case fact.Returned:
		b.Lift = nil
	case fact.Portion:
		if b.Lift != nil && b.Lift.Scale == v.Scale {
			b.Lift = nil
		}
		if i := b.index(v.Material); i >= 0 {
			st := &b.Steps[i]
			st.Delivered += v.Delivered
			st.U2 = addSquare(st.U2, v.U)
			st.Portions++
			st.Typed = st.Typed || v.How == "typed"
			b.Takes = append(b.Takes, Take{Seq: f.Seq, Step: i, Delivered: v.Delivered, U: v.U, By: f.By, Asks: b.asksFor(*st, v)})
			if t, ok := b.Tares[v.Scale]; ok && v.How != "not-returned" {
				t.Container = v.After // what clings in it is part of the next zero
				b.Tares[v.Scale] = t
			}
		}
	case fact.Decided:
		i := b.index(v.Material)
		b.anew = v.Answer == "anew" && v.Question != "operator"
		switch {
		case v.Question == "operator":
			b.By = v.Answer
		case i < 0:
		case v.Question == "confirm":
			b.confirm(i)
		case v.Question == "order":
			b.First = v.Material
		case v.Question == "mix":
			b.Mixes[b.Steps[i].Mix].Mixed = true
		case v.Answer == "skip":
			b.leaveOut(i)
		case v.Answer == "keep" && v.Question == "overpour":
			b.Steps[i].Kept = true
		case v.Answer == "substitute":
			b.Steps[i].As = v.With
		}
		if v.Question == "lifted" {
			b.Lift = nil
		}
	case fact.Moved:
		if i := b.index(v.Material); i >= 0 {
			st := &b.Steps[i]
			if st.Named == "" {
				st.Named = st.Scale
			}
			st.Line = v.Line
			if k := slices.IndexFunc(b.Lines, func(l fact.Line) bool { return l.Material == v.Material }); k >= 0 {
				v.Line.Place = b.Lines[k].Place
				b.Lines[k] = v.Line
			}
		}
	case fact.Enlarged:
		b.Base, b.Dry = v.Base, v.Dry
		for _, l := range v.Lines {
			if k := slices.IndexFunc(b.Lines, func(o fact.Line) bool { return o.Material == l.Material }); k >= 0 {
				l.Place = b.Lines[k].Place
				b.Lines[k] = l
			}
			if i := b.index(l.Material); i >= 0 {
				b.Steps[i].Line = l
				b.Steps[i].Kept = false
			}
		}
		for i := range b.Steps {
			if b.Steps[i].Part == TakePart {
				b.Steps[i].Kept = false
			}
		}
	case fact.Amended:
		b.amend(v)
	case fact.Noted:
		if !b.Finished {
			b.givenUp = wholeSeries(v.Text)
		}
	case fact.Paused:
		b.Paused = true
	case fact.Resumed:
		if f.At.Sub(b.At) > longBreak {
			b.Reminded = false
		}
		b.Paused, b.anew = false, false
	case fact.Finished:
		b.Finished, b.Early = true, v.Abandoned
		s.Run = s.Run.finished(b, v)
	}
	b.At = f.At
	b.remix()
	return s
}

func opened(f fact.Fact, p fact.Planned) *Batch {
	b := &Batch{Mark: f.Batch, Title: p.Title, Plan: p, Base: p.Base, Dry: p.Dry, By: f.By, At: f.At,
		Tares: map[string]fact.Tared{}, Reminded: p.Series.Reminded || p.Again != ""}
	b.Lines = slices.Clone(p.Lines)
	b.steps()
	return b
}

// amend takes an amendment of a portion into account.
func (b *Batch) amend(v fact.Amended) {
	k := slices.IndexFunc(b.Takes, func(t Take) bool { return t.Seq == v.Of })
	if k < 0 {
		return
	}
	t := b.Takes[k]
	st := &b.Steps[t.Step]
	st.Kept = false
	if st.cup() {
		b.Mixes[st.Mix].Mixed = false // what is in the cup is not what was mixed
	}
	if v.Void {
		st.Delivered -= t.Delivered
		st.U2 = addSquare(st.U2, -t.U)
		st.Portions--
		b.Takes = slices.Delete(b.Takes, k, k+1)
		return
	}
	st.Delivered += v.Is - t.Delivered
	b.Takes[k].Delivered = v.Is
	if v.U > 0 {
		st.U2 = addSquare(addSquare(st.U2, -t.U), v.U)
		b.Takes[k].U = v.U
	}
}

// addSquare gives sum + u²; a negative u takes its square away.
func addSquare(sum *big.Int, u protocol.Mass) *big.Int {
	q := new(big.Int).Mul(big.NewInt(int64(u)), big.NewInt(int64(u)))
	if sum == nil {
		sum = new(big.Int)
	}
	if u < 0 {
		return q.Sub(sum, q)
	}
	return q.Add(sum, q)
}

// scaleOf finds what the batch rests on.
func (b *Batch) scaleOf(name string) fact.Scale {
	for _, s := range b.Plan.Scales {
		if s.Name == name {
			return s
		}
	}
	return fact.Scale{Name: name}
}

// pan gives the pan of a scale; nil when there is none (a scale read by eye).
func (s *State) pan(name string) *pan.Pan {
	for i := range s.Pans {
		if s.Pans[i].Name == name {
			return &s.Pans[i]
		}
	}
	return nil
}

// restorePan puts a pan where the facts left it.
func restorePan(p *pan.Pan, b *Batch) {
	t, ok := b.Tares[p.Name]
	if !ok {
		return
	}
	p.Restore(pan.Tare{Carried: t.Carried, Weight: t.Weight, Base: t.Container, Step: t.Step})
	if b.Lift != nil && b.Lift.Scale == p.Name {
		liftAgain(p, *b.Lift)
	}
}

// liftAgain puts a pan where the lift of its container left it.
func liftAgain(p *pan.Pan, l fact.Lifted) {
	raw := ""
	if len(l.Raw) > 0 {
		raw = l.Raw[0]
	}
	p.RestoreLift(pan.Lift{Carried: l.Carried, Weight: l.Empty, Base: l.Base, Before: l.Before, Sure: l.Settled, Raw: raw})
}

// NewState is a bench with these scales and nothing on them known.
func NewState(scales []sheet.Scale) State {
	s := State{told: &told{}}
	for _, sc := range scales {
		if !sc.Eye {
			s.Pans = append(s.Pans, pan.Pan{Name: sc.Name, Max: sc.Max, Step: sc.Step})
		}
	}
	return s
}
