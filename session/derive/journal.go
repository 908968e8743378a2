package derive

import (
	"slices"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/text"
)

// Journal looks at every fact of a journal, one after the other. The zero value has seen
// none.
type Journal struct {
	open map[string]*batchSeen // by mark
	tubs map[string]*batch.Batch
}

type batchSeen struct {
	*batch.Batch
	unknown bool // a newer program wrote some of it
	scales  map[string]*scaleSeen
	found   []Finding // about the fact that is looked at
}

type scaleSeen struct {
	Known
	known bool      // where its zero is
	zero  fact.Zero // and why, as it was told last
	doubt *doubt
}

// doubt is a portion that an older program may have written, with no word of where the
// zero was by then: what comes next on the scale tells.
type doubt struct {
	f    fact.Portion
	was  Known
	line uint64
}

// Finding is a line that says something else than follows.
type Finding struct {
	Line  uint64
	Batch string
	Result
}

// Add takes the next fact.
func (j *Journal) Add(f fact.Fact) []Finding {
	b := j.batchOf(f)
	if b == nil {
		return nil
	}
	switch v := f.Body.(type) {
	case fact.Tared:
		b.tared(f.Seq, v)
	case fact.Lifted:
		b.lifted(f.Seq, v)
	case fact.Returned:
		b.scale(v.Scale).Lift = nil
	case fact.Noticed:
		if v.What == "tare-key" {
			b.scale(v.Scale).Carried += v.Amount
		}
	case fact.Portion:
		b.portion(f.Seq, v)
	case fact.Unknown:
		b.unknown = true
	case fact.Finished:
		b.finished(f.Seq, v, j.tubs[b.Plan.Series.Of])
		delete(j.open, f.Batch)
	}
	b.Apply(f)
	found := b.found
	b.found = nil
	return found
}

// batchOf gives the open batch of a fact; nil: there is none.
func (j *Journal) batchOf(f fact.Fact) *batchSeen {
	if p, ok := f.Body.(fact.Planned); ok {
		if j.open == nil {
			j.open, j.tubs = map[string]*batchSeen{}, map[string]*batch.Batch{}
		}
		b := batch.New(f, p)
		j.open[f.Batch] = &batchSeen{Batch: b, scales: map[string]*scaleSeen{}}
		if p.Series.Cups > 0 && p.Series.Cup == 0 {
			j.tubs[f.Batch] = b
		}
	}
	b := j.open[f.Batch]
	if tub := j.tubs[f.Batch]; b == nil && tub != nil {
		tub.Apply(f) // a correction of the tub reaches its cups
	}
	return b
}

// add notes what was found about a line.
func (b *batchSeen) add(line uint64, r Result) {
	if len(r.Wrong) > 0 || r.Cannot {
		b.found = append(b.found, Finding{line, b.Mark, r})
	}
}

func (b *batchSeen) tared(seq uint64, v fact.Tared) {
	s := b.scale(v.Scale)
	b.add(s.settled(v.Carried))
	b.add(seq, Tared(v, s.Format))
	s.stands(v.Carried)
	s.Lift, s.zero = nil, v.Zero
}

func (b *batchSeen) lifted(seq uint64, v fact.Lifted) {
	s, step := b.scale(v.Scale), b.Scale(v.Scale).Step
	b.add(s.settled(v.Carried))
	r := Lifted(v, s.Known, step)
	by := v.Carried - s.Carried - guessed(v.Zero) + guessed(s.zero)
	if s.known && by.Abs() > drifts*step && v.Carried != s.Stood {
		r.differs(ofCarried, v.Carried, s.Carried, step)
	}
	b.add(seq, r)
	s.Lift, s.Carried, s.known, s.zero = &v, v.Carried, true, v.Zero
}

func (b *batchSeen) portion(seq uint64, v fact.Portion) {
	s := b.scale(v.Scale)
	b.add(s.settled(s.Carried))
	r := Portion(v, s.Known)
	if v.Carried == nil && len(r.Wrong) == 1 && r.Wrong[0].Code == "derive.after" {
		s.doubt = &doubt{v, s.Known, seq}
		r = Result{}
	}
	b.add(seq, r)
	if v.Carried != nil {
		s.stands(*v.Carried)
	}
	s.Lift = nil
}

func (b *batchSeen) finished(seq uint64, v fact.Finished, tub *batch.Batch) {
	for _, s := range b.scales {
		if s.doubt != nil {
			b.add(s.atLast())
		}
	}
	if tub != nil {
		b.Fill(tub)
	}
	r := Result{Cannot: b.unknown}
	if !b.unknown {
		r = sums(v, b.Closing(v.Abandoned))
	}
	b.add(seq, r)
}

// atLast looks at a portion in doubt after which nothing was weighed on its scale: nobody
// knows how the zero drifted.
func (s *scaleSeen) atLast() (line uint64, r Result) {
	f := s.doubt.f
	line, r = s.settled(s.Carried)
	if shown, ok := Shown(s.Format, f.Raw[len(f.Raw)-1]); ok && (f.After-shown-s.Carried).Abs() <= drifts*f.Step {
		r = Result{Cannot: true}
	}
	return line, r
}

func (b *batchSeen) scale(name string) *scaleSeen {
	if b.scales[name] == nil {
		b.scales[name] = &scaleSeen{Known: Known{Format: b.Scale(name).Format}}
	}
	return b.scales[name]
}

// drifts is how many steps a zero may drift while nobody looks.
const drifts = 3

// guessed is what nobody saw of a zero that moved: the weights show it.
func guessed(z fact.Zero) protocol.Mass { return z.Inferred + z.Object }

// stands notes where the zero is while a container stands there.
func (s *scaleSeen) stands(carried protocol.Mass) {
	s.Stood, s.Carried, s.known = carried, carried, true
}

// settled looks again at a portion in doubt, now that it is known where the zero was.
func (s *scaleSeen) settled(carried protocol.Mass) (line uint64, r Result) {
	d := s.doubt
	if d == nil {
		return 0, Result{}
	}
	s.doubt = nil
	d.was.Carried = carried
	return d.line, Portion(d.f, d.was)
}

// sums compares the sums of a batch with those of its portions.
func sums(says, follows fact.Finished) (r Result) {
	r.differs(ofBase, says.Base, follows.Base, 0)
	r.differs(ofDry, says.Dry, follows.Dry, 0)
	for _, l := range append(slices.Clone(says.Lines), says.Water) {
		all := append(slices.Clone(follows.Lines), follows.Water)
		i := slices.IndexFunc(all, func(m fact.Made) bool { return m.Material == l.Material })
		if i < 0 || all[i] != l {
			is := fact.Made{}
			if i >= 0 {
				is = all[i]
			}
			r.Wrong = append(r.Wrong, text.New("derive.sum", text.Name("material", l.Material), text.Exact("says", l.Delivered, 0), text.Exact("follows", is.Delivered, 0)))
		}
	}
	return r
}
