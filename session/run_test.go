package session

import (
	"time"

	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/plan"
	"tared/session/sheet"
)

// An invented base and an invented series on it.
const white = "# Bath white, invented\nPotash feldspar 45\nQuartz 25\nWhiting 18\nBall clay 12\n+ Bentonite 2\n"

var nine = plan.Series{Cup: "100g", Vary: []plan.Addition{{Material: "Cobalt carbonate", Levels: "0.5 1 2"}, {Material: "Rutile", Levels: "2 4 6"}}}

// seriesRig stands before the first weighing of a series on one scale in hundredths.
func seriesRig(t *testing.T, w plan.Series) *rig {
	t.Helper()
	scales := []sheet.Scale{{Name: "fine", Step: g("0.01"), Max: g("3000")}}
	r := plan.Request{Recipe: white, Series: &w}
	sh, err := r.Sheet(scales)
	require.NoError(t, err)
	k := newRig(t)
	k.start.Pans = []pan.Pan{pan.New("fine", g("3000"), g("0.01"))}
	k.facts, k.s = nil, k.start
	k.s.Pans = append([]pan.Pan(nil), k.s.Pans...)
	f := fact.Fact{Seq: 1, At: k.now, Batch: "260302a", By: "Mara", Body: planned(sh, r.Recipe, scales, false)}
	k.facts = append(k.facts, f)
	k.s = k.s.Apply(f)
	k.must("yes Mara")
	k.set("fine", "100.00")
	return k
}

func (r *rig) fine(m protocol.Mass) fact.Portion {
	r.t.Helper()
	r.set("fine", "100.00")
	r.set("fine", (g("100") + m).Grams(2))
	r.set("fine", "0")
	r.set("fine", "100.00")
	return r.lastPortion()
}

// onTarget pours what the step wants.
func (r *rig) onTarget() fact.Portion {
	r.t.Helper()
	a := r.s.aim(r.s.Batch.Current())
	return r.fine(g(a.Target.Rounded(2)))
}

func (r *rig) books() *book.Book {
	var b book.Book
	for _, f := range r.facts {
		b.Add(f, [32]byte{byte(f.Seq), byte(f.Seq >> 8)})
	}
	return &b
}

func TestSeriesOnTheBench(t *testing.T) {
	r := seriesRig(t, nine)
	assert.Equal(t, uint64(9), r.s.Batch.Plan.Series.Cups)
	assert.Contains(t, fmt.Sprint(reminded(r.s)), "Rutile", "the reminder is about all that is to come")
	for range 4 {
		r.onTarget()
	}
	assert.Contains(t, spoken(r.s.View().Now.Headline), "Bentonite")
	r.onTarget()
	require.Equal(t, "260302a-1", r.s.Batch.Mark, "the first cup follows by itself")
	v := r.s.View()
	assert.Equal(t, "mix", v.Asked.Question, "the tub is mixed before it is split")
	require.Len(t, v.Asked.Answers, 1)
	r.must("yes")
	strengths := []string{}
	for cup := 1; cup <= 9; cup++ {
		require.Equal(t, fmt.Sprintf("260302a-%d", cup), r.s.Batch.Mark)
		if cup == 4 {
			r.restart()
			require.Equal(t, "260302a-4", r.s.Batch.Mark)
		}
		p := r.onTarget()
		assert.Equal(t, "common mix of 260302a", p.Material)
		assert.Equal(t, g("102"), p.Delivered)
		last := ""
		for r.s.Batch.Mark == fmt.Sprintf("260302a-%d", cup) && !r.s.Batch.Finished {
			p := r.onTarget()
			require.NotEqual(t, "Cobalt carbonate", last, "nothing comes after the strong colourant in a cup")
			last = p.Material
			if last == "Cobalt carbonate" {
				strengths = append(strengths, p.Delivered.Grams(2))
			}
		}
	}
	assert.Equal(t, []string{"0.50", "0.50", "0.50", "1.00", "1.00", "1.00", "2.00", "2.00", "2.00"}, strengths, "the weakest first")
	assert.Equal(t, "finished", r.state())
	assert.Contains(t, spoken(r.s.View().Now.Headline), "Series 260302a is complete")

	b := r.books()
	require.Len(t, b.Batches(), 10)
	made := b.Find("260302A-9").Made()
	assert.Equal(t, book.Finished, made.State)
	assert.Equal(t, "260302a", made.Series)
	shares := map[string]string{}
	for _, l := range made.Lines {
		shares[l.Material] = l.Share
		assert.Equal(t, "in", l.Verdict, l.Material)
	}
	assert.Equal(t, map[string]string{"Potash feldspar": "45.000", "Quartz": "25.000", "Whiting": "18.000", "Ball clay": "12.000", "Bentonite": "2.000",
		"Rutile": "6.000", "Cobalt carbonate": "2.000"}, shares)
	assert.Contains(t, made.Recipe, "+ Cobalt carbonate 2%")
	c := book.Compare(b.Find("260302a-1"), b.Find("260302a-9"))
	assert.False(t, c.Explains, "they differ as planned")
	assert.Contains(t, c.Verdict, "the recipes differ")
	for _, l := range c.Lines {
		assert.Equal(t, l.Material == "Rutile" || l.Material == "Cobalt carbonate", l.Differs, l.Material)
	}
	assert.Contains(t, fmt.Sprint(c.Words), "cups of one tub")
	_, err := plan.Request{Recipe: made.Recipe, Base: "100g"}.Sheet([]sheet.Scale{{Name: "fine", Step: g("0.01")}})
	require.NoError(t, err, "the recipe of a cup is a recipe")
}

// An overpour in the tub reaches all cups; one in a cup only that cup.
func TestSeriesOverpours(t *testing.T) {
	r := seriesRig(t, plan.Series{Cup: "100g", Vary: []plan.Addition{{Material: "Rutile", Levels: "2 4"}}})
	quartz := r.s.Batch.StepOf("Quartz")
	for r.s.Batch.Mark == "260302a" {
		a := r.s.aim(r.s.Batch.Current())
		if r.s.Batch.Current() == quartz && !r.s.Batch.Steps[quartz].Kept {
			r.fine(g((a.Target + g("6")).Rounded(2)))
			r.must("keep the bag slipped")
			continue
		}
		r.onTarget()
	}
	r.must("yes")
	r.onTarget()
	r.fine(g("2.50")) // half a gram of rutile too much
	require.Equal(t, "overpour", r.s.View().Asked.Question)
	r.must("enlarge")
	assert.Equal(t, "common mix of 260302a", r.s.View().Now.Material, "the common mix is topped up as one")
	r.onTarget()
	for !r.s.Batch.Finished {
		r.onTarget()
	}
	b := r.books()
	one, two := b.Find("260302a-1").Made(), b.Find("260302a-2").Made()
	at := func(m book.Made, name string) book.Line {
		for _, l := range m.Lines {
			if l.Material == name {
				return l
			}
		}
		t.Fatal(name)
		return book.Line{}
	}
	assert.Equal(t, at(one, "Quartz").Share, at(two, "Quartz").Share)
	assert.NotEqual(t, "25.000", at(two, "Quartz").Share)
	assert.Equal(t, "over", at(two, "Quartz").Verdict)
	assert.Greater(t, one.MadeBase.Mass, two.MadeBase.Mass)
	assert.Equal(t, "in", at(one, "Rutile").Verdict)
	assert.Equal(t, "in", at(two, "Rutile").Verdict)
	assert.Equal(t, g("100"), b.Find("260302a-2").Plan.Base)
}

func TestSeriesIsLeft(t *testing.T) {
	r := seriesRig(t, plan.Series{Cup: "50g", Vary: []plan.Addition{{Material: "Rutile", Levels: "2 4 6"}}})
	for r.s.Batch.Mark == "260302a" {
		r.onTarget()
	}
	r.must("yes")
	r.onTarget()
	r.must("abandon the cup fell")
	require.Equal(t, "260302a-2", r.s.Batch.Mark, "the others go on")
	assert.False(t, r.s.Batch.Finished)
	r.must("abandon series the tub fell")
	assert.True(t, r.s.Batch.Finished)
	assert.Equal(t, "260302a-2", r.s.Batch.Mark)
	v := r.s.View()
	assert.True(t, v.Batch.Early)
	assert.Equal(t, "Batch 260302a-2 was closed early", spoken(v.Now.Headline), "it is not complete")
	tub := seriesRig(t, plan.Series{Cup: "50g", Vary: []plan.Addition{{Material: "Rutile", Levels: "2 4 6"}}})
	tub.onTarget()
	tub.must("abandon wrong bag")
	assert.Equal(t, "260302a", tub.s.Batch.Mark, "without its tub there are no cups")
}

// Whatever is poured, the materials of a cup add up to what was tipped into it,
// all cups take no more of a material than the tub had, and book and bench agree.
func TestSeriesBalances(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := seriesRig(t, rapid.SampledFrom([]plan.Series{
			{Cup: "40g", Vary: []plan.Addition{{Material: "Rutile", Levels: "0 3"}}},
			{Cup: "40g", Spare: "20", Blend: "line", Steps: 3, Vary: []plan.Addition{{Material: "Rutile", Levels: "4"}, {Material: "Tin oxide", Levels: "5"}}},
			{Cup: "40g", Steps: 2, Swap: plan.Swap{Out: "Potash feldspar", In: "Nepheline syenite"}},
			{Cup: "40g", Steps: 1, Swap: plan.Swap{Out: "Ball clay", In: "Quartz"}, Vary: []plan.Addition{{Material: "Cobalt carbonate", Levels: "0 2"}}},
			{Cup: "60g", Steps: 1, Swap: plan.Swap{Out: "Bentonite", In: "Tin oxide"}},
			{Cup: "60g", Blend: "triangle", Steps: 1, Vary: []plan.Addition{{Material: "Rutile", Levels: "4"}, {Material: "Tin oxide", Levels: "5"}, {Material: "Cobalt carbonate", Levels: "1"}}},
		}).Draw(rt, "series"))
		tipped := map[string]protocol.Mass{}
		for range 80 {
			if r.s.Batch.Finished {
				break
			}
			if v := r.s.View(); v.Asked != nil {
				switch {
				case v.Asked.Question == "mix":
					r.must("yes")
				case v.Asked.Answers[0].Word == "enlarge" && rapid.Bool().Draw(rt, "enlarge"):
					r.must("enlarge")
				default:
					r.must("keep")
				}
				continue
			}
			a := r.s.aim(r.s.Batch.Current())
			off := protocol.Mass(rapid.IntRange(-4, 6).Draw(rt, "off")) * g("0.08")
			m := max(g(a.Target.Rounded(2))+off, g("0.05"))
			mark := r.s.Batch.Mark
			tipped[mark] += r.fine(m).Delivered
		}
		if !r.s.Batch.Finished {
			rt.Fatalf("not finished: %+v", r.s.View().Now)
		}
		r.restart()
		b := r.books()
		had, used := map[string]protocol.Mass{}, map[string]protocol.Mass{}
		for _, f := range r.facts {
			v, ok := f.Body.(fact.Finished)
			if !ok {
				continue
			}
			if v.Dry != tipped[f.Batch] {
				rt.Fatalf("%s: %s recorded, %s tipped", f.Batch, v.Dry, tipped[f.Batch])
			}
			made := b.Find(f.Batch).Made()
			for i, l := range v.Lines {
				if made.Lines[i].Delivered.Mass != l.Delivered || made.Lines[i].U.Mass != l.U || made.Lines[i].Share != l.Share || made.Lines[i].Verdict != l.Verdict {
					rt.Fatalf("%s: the book says %+v, the bench %+v", f.Batch, made.Lines[i], l)
				}
				if f.Batch == "260302a" {
					had[l.Material] += l.Delivered
				} else if _, common := had[l.Material]; common {
					used[l.Material] += l.Delivered
				}
			}
		}
		whole, part := protocol.Mass(0), protocol.Mass(0)
		for k := range had {
			whole, part = whole+had[k], part+used[k]
		}
		for k, m := range used {
			// In the proportion of the tub, to a nanogram for each cup.
			want := sheet.Need(part, whole, had[k])
			if (m - want).Abs() > 10*protocol.Nanogram {
				rt.Fatalf("%s: %s in all cups, %s of the tub", k, m, want)
			}
		}
	})
}

// A daemon that is started again in the fourth cup knows the series.
func TestSeriesIsTakenUp(t *testing.T) {
	r := seriesRig(t, plan.Series{Cup: "50g", Vary: []plan.Addition{{Material: "Rutile", Levels: "2 4 6"}}})
	for r.s.Batch.Mark == "260302a" {
		r.onTarget()
	}
	r.must("yes")
	for r.s.Batch.Mark != "260302a-3" {
		r.onTarget()
	}
	r.onTarget()
	dir := t.TempDir()
	j, _, err := journal.Open(dir, journal.Options{})
	require.NoError(t, err)
	_, err = Into(j).Append(r.facts)
	require.NoError(t, err)
	require.NoError(t, j.Close())
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	defer j.Close()
	b := New(Config{Recorder: Into(j), Past: past, Scales: []sheet.Scale{{Name: "fine", Step: g("0.01")}}})
	assert.Equal(t, "260302a-3", b.s.Batch.Mark)
	assert.True(t, b.s.Batch.Reminded)
	require.NotNil(t, b.s.Series)
	assert.Equal(t, r.s.Series, b.s.Series)
	assert.Equal(t, r.s.Batch.Steps, b.s.Batch.Steps)
}
