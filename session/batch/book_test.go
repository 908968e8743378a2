package batch_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
)

// load reads the facts of a journal.
func load(t testing.TB, path string) (out []fact.Fact) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer func() { _ = f.Close() }()
	_, err = journal.Scan(f, func(r journal.Record) error {
		got, _, err := fact.Decode(bytes.Clone(r.Line))
		out = append(out, got)
		return err
	})
	require.NoError(t, err)
	return out
}

// differ gives in words where the two folds differ.
func differ(n *book.Batch, b *batch.Batch) (out []string) {
	is := func(what string, bookSays, benchSays any) {
		if fmt.Sprint(bookSays) != fmt.Sprint(benchSays) {
			out = append(out, fmt.Sprintf("%s: book %v, bench %v", what, bookSays, benchSays))
		}
	}
	m := n.Made()
	state := "open"
	if b.Finished {
		state = "finished"
		if b.Early {
			state = "abandoned"
		}
	}
	is("state", m.State, state)
	is("by", m.By, b.By)
	if m.Enlarged != nil {
		is("base", m.Enlarged.Rounded(1), b.Base.Rounded(1))
	} else {
		is("base", m.Base.Rounded(1), b.Base.Rounded(1))
	}
	went := b.Deliveries()
	made, mb, md := batch.AsMade(b.Lines, went)
	is("made base", m.MadeBase.Mass, mb)
	is("made dry", m.MadeDry.Mass, md)
	is("lines", len(m.Lines), len(b.Lines))
	for i, l := range m.Lines {
		if i >= len(b.Lines) {
			break
		}
		o, w := b.Lines[i], went[i]
		name := "line " + l.Material + " "
		is(name+"target", l.Target.Mass, o.Target)
		is(name+"low", l.Low.Mass, o.Low)
		is(name+"high", l.High.Mass, o.High)
		is(name+"scale", l.Scale, o.Scale)
		is(name+"weighable", l.Weighable, o.Weighable)
		is(name+"delivered", l.Delivered.Mass, w.Delivered)
		is(name+"U", l.U.Mass, w.U)
		is(name+"as", l.As, w.As)
		if l.Verdict != "" {
			is(name+"verdict", l.Verdict, b.Verdict(o, w, 1))
		}
		if b.Finished {
			is(name+"share", l.Share, made[i].Share)
		}
		if k := b.StepOf(l.Material); k >= 0 {
			st := b.Steps[k]
			if l.Diluted == nil && len(b.Mixes) == 0 {
				is(name+"portions", l.Portions, st.Portions)
				is(name+"kept", l.Kept, st.Kept && st.Delivered > st.High)
			}
		}
	}
	if st := b.WaterStep(); (st != nil) != (m.Water != nil) {
		is("water", m.Water != nil, st != nil)
	} else if st != nil {
		l := m.Water
		is("water target", l.Target.Mass, st.Target)
		is("water low", l.Low.Mass, st.Low)
		is("water high", l.High.Mass, st.High)
		is("water scale", l.Scale, st.Scale)
		is("water weighable", l.Weighable, st.Weighable)
		is("water delivered", l.Delivered.Mass, st.Delivered)
		is("water U", l.U.Mass, st.DeliveredU())
		is("water as", l.As, st.As)
		is("water kept", l.Kept, st.Kept && st.Delivered > st.High)
		if l.Verdict != "" {
			is("water verdict", l.Verdict, b.StepVerdict(*st))
		}
	}
	return out
}

// both folds the facts as the bench does, which never changes a batch that it gave
// away, and as the book does, and tells after which fact they differ first.
func both(facts []fact.Fact) string {
	var b book.Book
	var w batch.Work
	for k, f := range facts {
		b.Add(f, [32]byte{})
		w = w.Apply(f)
		if d := differ(b.Find(w.Batch.Mark), w.Batch); len(d) > 0 {
			return fmt.Sprintf("after fact %d of %d (%s %+v) batch %s:\n  %s", k, len(facts), f.Body.Kind(), f.Body, w.Batch.Mark, strings.Join(d, "\n  "))
		}
	}
	return ""
}

// What the bench believes of a batch is what the record says of it: after each fact
// of journals that were really written, and with whatever else people may do.
func TestBenchAndBookSayTheSame(t *testing.T) {
	paths, err := filepath.Glob("../../testdata/kept/*.jsonl")
	require.NoError(t, err)
	require.Greater(t, len(paths), 10)
	r := rand.New(rand.NewPCG(1, 2))
	for _, path := range append(paths, "../../testdata/journals/whole.jsonl") {
		facts := load(t, path)
		require.Empty(t, both(facts), path)
		for range 8 {
			require.Empty(t, both(mutate(r, facts)), path)
		}
	}
}

// mutate adds to the facts of a bench what people may do at any time.
func mutate(r *rand.Rand, facts []fact.Fact) (out []fact.Fact) {
	seq := uint64(0)
	renumber := map[uint64]uint64{}
	now := map[string]*batch.Batch{}
	put := func(f fact.Fact) uint64 {
		seq++
		f.Seq = seq
		out = append(out, f)
		if p, ok := f.Body.(fact.Planned); ok {
			now[f.Batch] = batch.New(f, p)
		} else if now[f.Batch] != nil {
			now[f.Batch].Apply(f)
		}
		return seq
	}
	var portions []fact.Fact
	plans := map[string]fact.Planned{}
	for _, f := range facts {
		old := f.Seq
		if a, ok := f.Body.(fact.Amended); ok {
			a.Of = renumber[a.Of]
			f.Body = a
		}
		renumber[old] = put(f)
		if p, ok := f.Body.(fact.Planned); ok {
			plans[f.Batch] = p
		}
		if _, ok := f.Body.(fact.Portion); ok {
			f.Seq = seq
			portions = append(portions, f)
		}
		if r.IntN(6) > 0 || len(plans[f.Batch].Lines) == 0 {
			continue
		}
		b := now[f.Batch]
		var names []string
		for _, st := range b.Steps {
			names = append(names, st.Material)
		}
		at, by := f.At, "Jonas"
		one := names[r.IntN(len(names))]
		add := func(body fact.Body) { put(fact.Fact{At: at, Batch: f.Batch, By: by, Body: body}) }
		switch r.IntN(11) {
		case 0, 1, 2:
			if len(portions) > 0 {
				v := portions[r.IntN(len(portions))]
				q := v.Body.(fact.Portion)
				a := fact.Amended{Of: v.Seq, Material: q.Material, Reason: "x", Was: q.Delivered}
				if r.IntN(2) == 0 {
					a.Void = true
				} else {
					a.Is = q.Delivered + protocol.Gram*protocol.Mass(r.IntN(9)-4)
					if r.IntN(2) == 0 {
						a.U, a.How, a.Step = protocol.Gram/5, "typed", protocol.Gram/10
					}
				}
				put(fact.Fact{At: at, Batch: v.Batch, By: by, Body: a})
			}
		case 3:
			add(fact.Decided{Question: "material", Answer: "skip", Material: one})
		case 4:
			add(fact.Decided{Question: "material", Answer: "substitute", Material: one, With: "Other stuff"})
		case 5:
			add(fact.Decided{Question: "overpour", Answer: "keep", Material: one})
		case 6:
			add(fact.Decided{Question: "operator", Answer: "Ilse"})
		case 7:
			add(fact.Paused{})
			put(fact.Fact{At: at.Add(time.Hour), Batch: f.Batch, By: by, Body: fact.Resumed{}})
		case 9:
			st := b.Steps[b.StepOf(one)]
			l := st.Line
			l.Scale, l.U, l.Weighable = "fine", protocol.Gram/50, "coarse"
			l.Low, l.High = l.Low-protocol.Gram/20, l.High+protocol.Gram/20
			add(fact.Moved{Material: one, From: st.Scale, To: "fine", Line: l})
		case 10:
			if i := b.Current(); i >= 0 && b.Steps[i].Over() && !b.Steps[i].IsWater() {
				if e, err := b.Enlarge(); err == nil {
					e.Because = b.Steps[i].Material
					add(e)
				}
			}
		case 8:
			add(fact.Portion{Material: one, Scale: "bench", Delivered: protocol.Gram * protocol.Mass(r.IntN(20)), U: protocol.Gram / 7, Step: protocol.Gram / 10, How: "typed", Verdict: "in"})
		}
	}
	return out
}
