package session

import (
	"bytes"
	"flag"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/scale/sim"
	"tared/session/book"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/fact/facttest"
	"tared/session/plan"
	"tared/session/sheet"
	"tared/session/stock"
)

// An invented recipe. On a scale of 0.1 g, 1.2 g of a strong colourant at 2 %
// cannot be weighed: the case of the studio example in the tests of sheet.
const blue = "# Bath blue, invented\nQuartz 40\nPotash feldspar 35\nBall clay 25\n+ Cobalt carbonate 0.4\n"

func aliquotRig(t *testing.T, r plan.Request) *rig {
	t.Helper()
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	q, err := r.SheetRequest(scales)
	require.NoError(t, err)
	sh, err := sheet.Plan(q)
	require.NoError(t, err)
	k := newRig(t)
	k.facts, k.s = nil, k.start
	f := fact.Fact{Seq: 1, At: k.now, Batch: "260302a", By: "Mara", Body: planned(sh, r.Recipe, scales, false)}
	k.facts = append(k.facts, f)
	k.s = k.s.Apply(f)
	k.must("yes Mara")
	k.set("bench", "100.0")
	return k
}

// take pours so much, tips it, and puts the container back.
func (r *rig) take(grams string) fact.Portion {
	r.t.Helper()
	r.set("bench", (g("100.0") + g(grams)).Grams(1))
	r.set("bench", "0")
	r.set("bench", "100.0")
	return r.lastPortion()
}

func (r *rig) book() *book.Batch {
	var b book.Book
	for _, f := range r.facts {
		b.Add(f, [32]byte{byte(f.Seq)})
	}
	return b.Find("260302a")
}

func TestAliquotOnTheBench(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: blue, Base: "300g", Aliquot: []string{"cobalt CARBONATE"}})
	b := r.s.Batch
	m := b.Mixes[0]
	var names []string
	for _, st := range b.Steps {
		names = append(names, st.Material)
	}
	assert.Equal(t, []string{"Quartz", "Potash feldspar", "Ball clay", "Cobalt carbonate for the mixing cup", "Quartz for the cup of Cobalt carbonate",
		"mix of Cobalt carbonate in Quartz"}, names)
	less := m.Take.Target - g("1.2")
	assert.Equal(t, g("120")-less, b.Steps[0].Target, "what the part brings comes off the carrier's own target")
	for _, i := range []int{0, 1, 2} {
		r.take(b.Steps[i].Target.Rounded(1))
	}
	n := m.Parts[0].Step.Target

	// Colourant into the cup, 0.3 g too much of it: nobody is asked anything, and
	// the carrier makes up for it.
	p := r.take((n + g("0.3")).Rounded(1))
	assert.Equal(t, "mixing cup", p.Into)
	v := r.s.View()
	assert.Nil(t, v.Asked)
	want := new(big.Rat).Mul(m.Parts[1].Step.Target.Rat(), big.NewRat(int64(n+g("0.3")), int64(n)))
	assert.Equal(t, want.FloatString(1), r.s.Batch.Steps[4].Target.Rounded(1))
	r.restart()
	r.set("bench", "100.0")
	r.set("bench", (g("100") + g(r.s.Batch.Steps[4].Target.Rounded(1))).Grams(1))
	r.set("bench", "0")
	assert.Contains(t, spoken(r.s.View().Now.Headline), "mixing cup")
	r.set("bench", "100.0")

	v = r.s.View()
	assert.Equal(t, "decide", v.Now.State)
	require.NotNil(t, v.Asked)
	assert.Equal(t, "mix", v.Asked.Question)
	require.ErrorIs(t, r.do("typed 3g"), ErrRefused)
	require.ErrorIs(t, r.do("substitute Cobalt oxide"), ErrRefused)
	// Hands that play with the container meanwhile change nothing.
	r.set("bench", "0")
	r.set("bench", "100.0")
	assert.Equal(t, "mix", r.s.View().Asked.Question)
	r.restart()
	r.must("yes")
	d := r.last().(fact.Decided)
	assert.Equal(t, "mix", d.Question)
	r.set("bench", "100.0")
	assert.Equal(t, "pour", r.state())
	assert.InDelta(t, grams(m.Take.Target), grams(r.s.Batch.Steps[5].Target), 0.05, "the part is as planned again")
	r.take(r.s.Batch.Steps[5].Target.Rounded(1))
	require.Equal(t, "finished", r.state())

	f := r.last().(fact.Finished)
	require.Len(t, f.Lines, 4)
	cobalt := f.Lines[3]
	assert.Equal(t, "Cobalt carbonate", cobalt.Material)
	assert.Equal(t, "in", cobalt.Verdict)
	// By hand: of the last part, w/(w+d).
	w, dl, tk := r.s.Batch.Steps[3].Delivered, r.s.Batch.Steps[4].Delivered, r.s.Batch.Steps[5].Delivered
	held := new(big.Rat).Mul(tk.Rat(), big.NewRat(int64(w), int64(w+dl)))
	assert.Equal(t, held.FloatString(8), cobalt.Delivered.Rounded(8))
	assert.LessOrEqual(t, cobalt.U, g("0.024"), "the U that the plan promised")
	assert.Equal(t, r.s.Batch.Steps[0].Delivered+tk-cobalt.Delivered, f.Lines[0].Delivered, "the carrier's share counts to the carrier")

	made := r.book().Made()
	assert.Equal(t, cobalt.Delivered, made.Lines[3].Delivered.Mass)
	require.NotNil(t, made.Lines[3].Diluted)
	assert.Equal(t, w+dl-tk, made.Lines[3].Diluted.Rest.Mass)
	assert.Equal(t, "in", made.Lines[0].Verdict)
}

func TestAliquotIsUndoneAndLeftOut(t *testing.T) {
	at := func(t *testing.T) *rig {
		r := aliquotRig(t, plan.Request{Recipe: blue, Base: "300g", Aliquot: []string{"Cobalt carbonate"}})
		for range 5 {
			r.take(r.s.Batch.Steps[r.s.Batch.Current()].Target.Rounded(1))
		}
		r.must("yes")
		return r
	}
	t.Run("undo unmixes", func(t *testing.T) {
		r := at(t)
		r.must("undo yes")
		assert.Equal(t, "Quartz for the cup of Cobalt carbonate", r.s.View().Now.Material)
		r.take(r.s.Batch.Steps[4].Target.Rounded(1))
		assert.Equal(t, "mix", r.s.View().Asked.Question)
	})
	t.Run("skip throws the cup away", func(t *testing.T) {
		r := at(t)
		r.must("skip dropped")
		// What the mixture would have brought of the carrier is missing now.
		require.Equal(t, "Quartz", r.s.View().Now.Material)
		left, _, _ := r.s.Batch.Steps[0].Left()
		r.take(left.Rounded(1))
		require.Equal(t, "finished", r.state())
		f := r.last().(fact.Finished)
		assert.Equal(t, "skipped", f.Lines[3].Verdict)
		assert.Zero(t, f.Lines[3].Delivered)
		assert.Equal(t, "in", f.Lines[0].Verdict)
		assert.Equal(t, f.Lines[3].Verdict, r.book().Made().Lines[3].Verdict)
	})
	t.Run("too much of the mixture", func(t *testing.T) {
		r := at(t)
		r.take((r.s.Batch.Steps[5].Target + g("2")).Rounded(1))
		require.Equal(t, "overpour", r.s.View().Asked.Question)
		r.must("enlarge")
		e := r.s.Batch
		assert.Greater(t, e.Base, g("300"))
		assert.Equal(t, e.Base, e.Lines[0].Target+e.Lines[1].Target+e.Lines[2].Target, "the base is the sum of its targets")
		assert.False(t, e.Steps[5].Over())
		for e = r.s.Batch; !e.Finished; e = r.s.Batch {
			left, _, _ := e.Steps[e.Current()].Left()
			r.take(left.Rounded(1))
		}
		for _, l := range r.last().(fact.Finished).Lines {
			assert.Equal(t, "in", l.Verdict, l.Material)
		}
	})
}

// Whatever is poured, what the record says of the materials adds up to what was
// tipped into the bucket; the book says what the bench said; and a replay of the
// facts ends where the bench stood.
func TestAliquotBalances(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := aliquotRig(t, plan.Request{Recipe: blue + "+ Chromium oxide 0.3\n", Base: rapid.SampledFrom([]string{"250g", "300g", "420g"}).Draw(rt, "base"),
			Aliquot: []string{"Cobalt carbonate", "Chromium oxide"}})
		bucket := protocol.Mass(0)
		for range 60 {
			v := r.s.View()
			if v.Now.State == "finished" {
				break
			}
			if v.Asked != nil {
				switch v.Asked.Question {
				case "mix":
					r.must("yes")
				case "overpour":
					if v.Asked.Answers[0].Word == "enlarge" && rapid.Bool().Draw(rt, "enlarge") {
						r.must("enlarge")
					} else {
						r.must("keep")
					}
				default:
					rt.Fatalf("asked %+v", v.Asked)
				}
				continue
			}
			r.set("bench", "100.0")
			i := r.s.Batch.Current()
			left, _, _ := r.s.Batch.Steps[i].Left()
			off := protocol.Mass(rapid.IntRange(-12, 12).Draw(rt, "off")) * g("0.1")
			want := max((left+g("0.05"))/g("0.1")*g("0.1")+off, g("0.4"))
			p := r.take(want.Grams(1))
			if p.Into == "" {
				bucket += p.Delivered
			}
		}
		if !r.s.Batch.Finished {
			rt.Fatalf("not finished: %+v", r.s.View().Now)
		}
		f := r.last().(fact.Finished)
		if f.Dry != bucket {
			rt.Fatalf("%s recorded, %s tipped", f.Dry, bucket)
		}
		r.restart()
		n := r.book()
		made := n.Made()
		for i, l := range f.Lines {
			if made.Lines[i].Delivered.Mass != l.Delivered || made.Lines[i].U.Mass != l.U || made.Lines[i].Verdict != l.Verdict || made.Lines[i].Share != l.Share {
				rt.Fatalf("the book says %+v, the bench %+v", made.Lines[i], l)
			}
		}
	})
}

// A step that waits for a person is no silent scale: time changes nothing.
func TestMixingTakesItsTime(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: blue, Base: "300g", Aliquot: []string{"Cobalt carbonate"}})
	for range 5 {
		r.take(r.s.Batch.Steps[r.s.Batch.Current()].Target.Rounded(1))
	}
	n := len(r.facts)
	for range 20 {
		r.tick(time.Minute)
	}
	assert.Len(t, r.facts, n)
	assert.Equal(t, "mix", r.s.View().Asked.Question)
}

// Simulated hands weigh the whole batch by what the bench shows; each record is
// held against what was really tipped.
func TestTruthAliquot(t *testing.T) {
	for _, tb := range []trouble{{name: "none"}, {name: "hurried", potter: sim.Hurried}, {name: "killed", do: func(tr *truth) {
		if tr.chance(15) {
			tr.restart()
		}
	}}} {
		t.Run(tb.name, func(t *testing.T) {
			t.Parallel()
			for seed := range uint64(3 * batchesEach) {
				tr := newTruth(t, seed+1, tb)
				scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}, {Name: "fine", Step: g("0.01"), Max: g("300")}}
				r := plan.Request{Recipe: blue, Base: "50g", Aliquot: []string{"Cobalt carbonate"}}
				q, err := r.SheetRequest(scales)
				require.NoError(t, err)
				sh, err := sheet.Plan(q)
				require.NoError(t, err)
				tr.facts[0].Body = planned(sh, r.Recipe, scales, true)
				tr.s = tr.start.Apply(tr.facts[0])
				require.True(t, tr.run(tb), "seed %d: it comes to its end", seed+1)
				require.Empty(t, tr.wrong, "seed %d", seed+1)
				f := tr.facts[len(tr.facts)-1].Body.(fact.Finished)
				require.Contains(t, []string{"in", "cannot-tell"}, f.Lines[3].Verdict, "more portions than planned leave more open than is allowed")
			}
		})
	}
}

// The record of an aliquot as a person reads it.
func TestAliquotRecordGolden(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: blue, Base: "300g", Aliquot: []string{"Cobalt carbonate"}})
	for r.s.Batch.Current() >= 0 {
		if r.s.View().Asked != nil {
			r.must("yes")
			r.set("bench", "100.0")
			continue
		}
		r.take(r.s.Batch.Steps[r.s.Batch.Current()].Target.Rounded(1))
	}
	var out bytes.Buffer
	require.NoError(t, r.book().Made().Render(&out))
	golden(t, "aliquot.txt", out.Bytes())
	out.Reset()
	for _, f := range r.facts {
		b, err := facttest.Line(f)
		require.NoError(t, err)
		out.Write(append(b, '\n'))
	}
	golden(t, "aliquot.jsonl", out.Bytes())
}

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got), name)
}

// A journal with a mixing cup stays readable: the kept one replays to the
// same batch and the same record.
func TestKeptJournalStillReplays(t *testing.T) {
	b, err := os.ReadFile(filepath.Join("testdata", "aliquot.jsonl"))
	require.NoError(t, err)
	var s State
	var n book.Book
	for line := range bytes.Lines(b) {
		f, _, err := fact.Decode(line)
		require.NoError(t, err)
		s = s.Apply(f)
		n.Add(f, [32]byte{})
	}
	require.True(t, s.Batch.Finished)
	made := n.Find("260302a").Made()
	last := s.Batch.Closing(false)
	for i, l := range last.Lines {
		assert.Equal(t, l.Delivered, made.Lines[i].Delivered.Mass)
	}
}

// An invented recipe with what dissolves. On a scale of 0.1 g, 1.2 g at 2 % goes in by a
// weighed solution.
const sky = "# Bath sky, invented\nQuartz 40\nPotash feldspar 35\nBall clay 25\n+ Cobalt sulfate 0.4\n"

// Water goes into the cup first, then the powder; what really went in decides how much of the
// solution is taken, and the water that it brings comes off the first water, by as much as it
// brought.
func TestASolutionOnTheBench(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: sky, Base: "300g", Water: "85%", Aliquot: []string{"Cobalt sulfate"}})
	var names []string
	for _, st := range r.s.Batch.Steps {
		names = append(names, st.Material)
	}
	require.Equal(t, []string{"Quartz", "Potash feldspar", "Ball clay", "Water for the cup of Cobalt sulfate", "Cobalt sulfate for the mixing cup", "solution of Cobalt sulfate", "Water"}, names)
	assert.Equal(t, g("120"), r.s.Batch.Steps[0].Target, "no base material carries it")
	for _, i := range []int{0, 1, 2, 3} {
		r.take(r.s.Batch.Steps[i].Target.Rounded(1))
	}
	r.take("8.4") // 0.4 g too much of it: the part gets smaller
	v := r.s.View()
	require.NotNil(t, v.Asked)
	assert.Equal(t, "mix", v.Asked.Question)
	assert.Contains(t, spoken(v.Asked.Says), "Stir 8.4")
	assert.ErrorContains(t, r.do("typed 3g"), "when it is clear")
	r.restart()
	r.must("yes")
	r.set("bench", "100.0")
	st := r.s.Batch.Steps[5]
	// By hand: 1.2 g are in 1.2·(312 + 8.4)/8.4 = 45.771 g.
	assert.Equal(t, "45.771", st.Target.Rounded(3))
	r.take("45.8")
	// By hand: 45.8·312/320.4 = 44.599 g of water came with it; 85 % of 301.2007 g are 256.0 g.
	in := r.s.Batch.Deliveries()[3]
	assert.Equal(t, "1.20075", in.Delivered.Rounded(5), "45.8·8.4/320.4")
	water := r.s.Batch.Steps[6]
	assert.InDelta(t, 0.85*(300+1.20075)-44.599, grams(water.Target), 0.2, "the bases are in within a step")
	r.take(water.Target.Rounded(1))
	require.Equal(t, "finished", r.state())
	f := r.last().(fact.Finished)
	assert.InDelta(t, 256.0, grams(f.Water.Delivered), 0.3, "all the water")
	assert.Equal(t, "in", f.Water.Verdict)
	made := r.book().Made()
	require.NotNil(t, made.Lines[3].Diluted)
	assert.Equal(t, "0.1", made.Lines[3].Diluted.Mixing)
	assert.Equal(t, f.Water.Delivered, made.Water.Delivered.Mass)
	// By hand, with R² = 0.0166667 g²: 1.20075²·(R²·((312/(8.4·320.4))² + 1/320.4² + 1/45.8²) + (0.001·0.974)²).
	assert.InDelta(t, 0.018330, grams(in.U), 2e-5)
}

// What a mixture brings of its carrier is in the U of the carrier in the record, and so in
// its guarded marks: between them the record has it in. By hand: of potash feldspar 35 % of
// 300 g, 105 g, 1.05 g is allowed; a weighing on a 0.1 g scale has U = 0.13 g, and twenty of
// grams of a mixture of which the colourant has U as much again.
func TestGuardedMarksOfACarrierHoldTheMixture(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	q, err := plan.Request{Recipe: blue, Base: "60g", Aliquot: []string{"Cobalt carbonate"}}.SheetRequest(scales)
	require.NoError(t, err)
	sh, err := sheet.Plan(q)
	require.NoError(t, err)
	sh.AcceptBy(doubt.Guarded)
	c := slices.IndexFunc(sh.Lines, func(l sheet.Line) bool { return l.Less > 0 })
	require.GreaterOrEqual(t, c, 0)
	carrier := sh.Lines[c]
	assert.Greater(t, carrier.LessU, carrier.U, "the part of the mixture is a weighing of its own, of a mixture with doubts of its own")

	f := planned(sh, blue, scales, false)
	f.Rule = doubt.Guarded
	k := newRig(t)
	k.facts, k.s = nil, k.start
	k.s = k.s.Apply(fact.Fact{Seq: 1, At: k.now, Batch: "260302a", By: "Mara", Body: f})
	b := k.s.Batch
	st := b.Steps[b.StepOf(carrier.Material)]
	u, allowed := doubt.Together(carrier.U, carrier.LessU), b.StepAllowed(st)
	require.Less(t, u, allowed, "else there would be nothing to tell")
	assert.GreaterOrEqual(t, st.Low, st.Target-allowed+u)
	assert.LessOrEqual(t, st.High, st.Target+allowed-u)
	assert.Equal(t, st.Low.Rounded(1), carrier.Lowest(), "the page of the sheet has the same marks")
	assert.Equal(t, st.High.Rounded(1), carrier.Highest())
}

// A kept mixture is one weighing at the bench; what is tipped too much of it is judged by what
// is in it, and the record knows what went in of its colourant, with the doubt of how it was mixed.
func TestAKeptMixtureOnTheBench(t *testing.T) {
	part := func(name, mass string) fact.MixPart {
		return fact.MixPart{Material: name, Mass: g(mass), U: 129_099_445_000, On: []doubt.On{{Scale: "bench", Mass: g(mass)}}}
	}
	c := fact.Content{Of: "261125a", Mixing: "1/100", Parts: []fact.MixPart{part("Cobalt carbonate", "10"), part("Quartz", "70")}}
	shelf := &stock.Stock{}
	shelf.Add(fact.Fact{Seq: 1, Body: fact.Stocked{Lot: "L7", Material: stock.Name(c), Amount: g("70.4"), Content: &c}})
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	sh, err := plan.Request{Recipe: blue, Base: "300g", Stock: shelf, Lots: map[string]string{"Cobalt carbonate": "L7"}}.Sheet(scales)
	require.NoError(t, err)
	r := newRig(t)
	r.facts, r.s = nil, r.start
	f := fact.Fact{Seq: 1, At: r.now, Batch: "260302a", By: "Mara", Body: planned(sh, blue, scales, false)}
	r.facts, r.s = append(r.facts, f), r.s.Apply(f)
	r.must("yes Mara")
	r.set("bench", "100.0")
	const mix = "mix of Cobalt carbonate in Quartz, lot L7"
	require.Len(t, r.s.Batch.Steps, 4)
	require.Equal(t, mix, r.s.Batch.Steps[3].Material)
	assert.Equal(t, "111.6", r.s.Batch.Steps[0].Target.Rounded(1))
	for _, i := range []int{0, 1, 2} {
		r.take(r.s.Batch.Steps[i].Target.Rounded(1))
	}
	require.Equal(t, "pour", r.state(), "nobody asks whether it is mixed")
	// 11.2 g of it hold 1.4 g: by hand that wants a batch of 1.4/1.02/1.2 times 300 g at least, 343.2 g.
	r.take("11.2")
	v := r.s.View()
	require.NotNil(t, v.Asked)
	require.Equal(t, "overpour", v.Asked.Question)
	r.must("enlarge")
	assert.InDelta(t, 343.2, grams(r.s.Batch.Base), 0.2)
	for r.state() != "finished" {
		i := r.s.Batch.Current()
		require.GreaterOrEqual(t, i, 0)
		left, _, _ := r.s.Batch.Steps[i].Left()
		r.set("bench", "100.0")
		r.take(left.Rounded(1))
	}
	fin := r.last().(fact.Finished)
	cobalt := fin.Lines[3]
	assert.Equal(t, "1.4000", cobalt.Delivered.Rounded(4))
	// By hand: (0.1291·10/80)² +
	// (0.1291·11.2·70/6400)² + (0.1291·11.2·10/6400)² + (0.01·11.2·700/6400)² = (0.025801 g)².
	assert.InDelta(t, 0.025801, grams(cobalt.U), 2e-5)
	made := r.book().Made()
	assert.Equal(t, "L7", made.Lines[3].Diluted.Lot)
	assert.Contains(t, made.Words, "Cobalt carbonate came out of lot L7, a mixture or a solution that had been kept. What went in is worked out from how that was mixed, and U has the doubt of it.")
}
