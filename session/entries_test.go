package session

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/batch"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/plan"
	"tared/session/sheet"
)

// deed is one thing that a person has recorded.
type deed struct {
	name string
	do   func(b *Bench) error
}

// workingLife is all that people have recorded in an invented workshop whose only
// balance is read by eye: lots, recipes, a vessel, a batch with what was undone in
// it, what came after it, and a series. Marks and seqs are looked up, for a bench
// that was started again numbers on.
func workingLife(dir string) []deed {
	ctx := context.Background()
	say := func(words string) deed {
		return deed{words, func(b *Bench) error {
			c := ParseCommand(words)
			c.By = "Mara"
			return b.Do(ctx, c)
		}}
	}
	keep := func(name string, r KeepRequest) deed {
		r.By = "Jonas"
		return deed{name, func(b *Bench) error { _, err := b.Keep(ctx, r); return err }}
	}
	start := func(name string, r plan.Request) deed {
		r.By = "Mara"
		return deed{name, func(b *Bench) error { _, err := b.Start(ctx, r); return err }}
	}
	const first = "260302a"
	after := func(name string, r EntryRequest) deed {
		r.Batch, r.By = first, "Jonas"
		return deed{name, func(b *Bench) error { _, err := b.AddEntry(ctx, r, entryIn(dir, first)); return err }}
	}
	entry := func(kind string) (seq uint64) { // the first of its kind
		_, _ = journal.Read(dir, func(r journal.Record) error {
			if r.Kind == kind && seq == 0 {
				seq = r.Seq
			}
			return nil
		})
		return seq
	}
	return []deed{
		keep("a lot", KeepRequest{Lot: &LotRequest{Material: "Quartz", Amount: "25kg", Price: "0.84 EUR"}}),
		keep("another lot", KeepRequest{Lot: &LotRequest{Material: "Whiting", Amount: "900g"}}),
		keep("a lot is counted", KeepRequest{Correct: &CorrectRequest{Lot: "L2", Amount: "850g", Reason: "counted"}}),
		keep("a lot is moist", KeepRequest{Correct: &CorrectRequest{Lot: "L1", Moisture: "2%", Reason: "dried some"}}),
		keep("a recipe", KeepRequest{Recipe: &RecipeRequest{Name: "Sluice", Text: "Quartz 60\nWhiting 40\n"}}),
		keep("its second version", KeepRequest{Recipe: &RecipeRequest{Name: "Sluice", Text: "Quartz 61\nWhiting 39\n", Words: "less glossy"}}),
		{"a vessel", func(b *Bench) error {
			_, err := b.Measure(ctx, VesselRequest{Name: "cylinder", By: "Mara", Water: "99.8g", Celsius: "18"})
			return err
		}},
		{"the same vessel again", func(b *Bench) error {
			_, err := b.Measure(ctx, VesselRequest{Name: "cylinder", By: "Mara", Water: "99.9g", Celsius: "18"})
			return err
		}},
		{"a check of the balance", func(b *Bench) error {
			return b.Check(ctx, CheckRequest{Scale: "eye", What: CheckMass, Mass: "100g", Shown: "100.01g", By: "Mara"})
		}},
		start("a batch", plan.Request{Recipe: "Quartz 60\nWhiting 40\n+ Unheard of 1\n", Base: "100g", Roles: map[string]string{"Unheard of": "addition"}}),
		say("yes Mara"),
		say("typed 61.22g"),
		say("note the bag was torn"),
		say("typed 12g"),
		say("undo it was the other jar"),
		say("pause"),
		say("resume"),
		say("typed 40g"),
		say("typed 1g"), // and it is finished
		after("water", EntryRequest{Watered: &WaterRequest{Added: "90g", Mesh: "100", Standard: "US"}}),
		after("a gravity", EntryRequest{Watered: &WaterRequest{Sample: "145.0g", Vessel: "cylinder"}}),
		after("a firing", EntryRequest{Fired: &fact.Fired{Kiln: "small kiln", Cone: "6"}}),
		after("a judgement", EntryRequest{Judged: &fact.Judged{Tile: "AC-A", Verdict: "good", Words: "satin"}}),
		{"the water is struck out", func(b *Bench) error {
			_, err := b.AddEntry(ctx, EntryRequest{Batch: first, By: "Jonas", Strike: &StrikeRequest{Entry: entry("watered"), Reason: "another bucket"}}, entryIn(dir, first))
			return err
		}},
		{"a weight is corrected", func(b *Bench) error {
			_, err := b.AddEntry(ctx, EntryRequest{Batch: first, By: "Jonas", Correct: &WeightRequest{Entry: entry("portion"), Weight: "61.32g", Reason: "misread"}}, entryIn(dir, first))
			return err
		}},
		start("a series", plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Series: &plan.Series{Cup: "20g", Vary: []plan.Addition{{Material: "Rutile", Levels: "2 4 6"}}}}),
		say("yes Mara"),
		say("typed 38.57g"),
		say("typed 25.20g"),
		say("yes"), // the tub is mixed
		say("typed 20.24g"),
		say("anew short the cup fell over"),
		say("typed 20.24g"),
		say("typed 0.40g"),
		say("typed 20.24g"),
		say("abandon spilt"),
		say("typed 20.24g"),
		say("typed 1.20g"),
		start("one more batch", plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Base: "100g"}),
		say("yes Mara"),
		say("typed 61.22g"),
		say("anew the wrong whiting"),
		say("typed 61.22g"),
		say("typed 40g"),
	}
}

// table is a bench in front of a disk of its own.
type table struct {
	t    *testing.T
	dir  string
	disk *platter
	j    *journal.Journal
	b    *Bench
	off  func()
}

func newTable(t *testing.T, seed uint64) *table {
	w := &table{t: t, dir: t.TempDir()}
	w.disk = newPlatter(w.dir, rand.New(rand.NewPCG(seed, 5)))
	w.on()
	return w
}

func (w *table) on() {
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	j, past, _, err := openOn(w.dir, journal.Options{At: at, Wrap: w.disk.wrap})
	require.NoError(w.t, err)
	w.j = j
	w.b = New(Config{Recorder: Into(j), Past: past, Now: func() time.Time { return at },
		Scales: []sheet.Scale{{Name: "eye", Step: g("0.01"), Max: g("300"), Eye: true}}})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); _ = w.b.Run(ctx) }()
	require.NoError(w.t, w.b.call(ctx, func() {}))
	w.off = func() {
		cancel()
		<-done
		require.NoError(w.t, j.Close())
	}
}

func (w *table) lines() (all [][]byte) {
	_, err := journal.Read(w.dir, func(r journal.Record) error {
		all = append(all, bytes.Clone(r.Line))
		return nil
	})
	require.NoError(w.t, err, "the chain holds")
	return all
}

// counts is what counts of a journal in the end, without what a new start adds to
// it: what is in the bags, the recipes, the vessels, the checks, and each batch as
// made, with what came after.
func (w *table) counts() string {
	var s bytes.Buffer
	out := json.NewEncoder(&s)
	put := func(v any) { require.NoError(w.t, out.Encode(v)) }
	put(w.b.workshop.Stock.Lots())
	put(w.b.workshop.Recipes.All())
	put(w.b.workshop.Vessels)
	put(w.b.workshop.Roles)
	put(w.b.workshop.scales["eye"].checked.Body)
	var b book.Book
	for _, l := range w.lines() {
		f, _, err := fact.Decode(l)
		require.NoError(w.t, err)
		b.Add(f, [32]byte{})
	}
	for _, n := range b.Batches() {
		m := n.Made()
		put([]any{m.Mark, m.State, m.MadeBase, m.MadeDry, m.Lines, m.Cost, len(m.Changes), len(m.Pours)})
		noted := ""
		for _, f := range m.Facts {
			if f.Kind == "noted" && f.Words == noted {
				continue // a reason may stand there twice, where the closing behind it was lost
			}
			if f.Kind == "noted" {
				noted = f.Words
			}
			if f.Kind == "watered" || f.Kind == "fired" || f.Kind == "judged" || f.Kind == "noted" {
				put([]any{f.Kind, f.Words, f.Void, len(f.AmendedBy)})
			}
		}
	}
	return seqs.ReplaceAllString(s.String(), "")
}

// seqs are the numbers of lines, which a new start shifts, and words that have one.
var seqs = regexp.MustCompile(`"seq":[0-9]+,|(entry|line) [0-9]+`)

// The disk fails in each thing that people have recorded, in each way, and the power
// with it or not: a lot, a recipe, a vessel, a judgement is there as a whole or not
// at all, what was there before is there as it was, and when what is not there is
// done again, all stands as if nothing had happened.
func TestTheDiskFailsInEachEntry(t *testing.T) {
	whole := newTable(t, 1)
	life := workingLife(whole.dir)
	for _, d := range life {
		require.NoError(t, d.do(whole.b), d.name)
	}
	want := whole.counts()
	require.Nil(t, openBatch(whole.b), "all is finished")
	whole.off()

	every := os.Getenv("TARED_FAULTS") != ""
	for k := 0; k < len(life); k += 3 - batchesEach { // with the race detector fewer
		t.Run(life[k].name, func(t *testing.T) {
			t.Parallel()
			for i, how := range howDisksFail {
				if every || (i+k)%len(howDisksFail) < 2 {
					failsIn(t, k, how, (i+k)%2 == 0, want)
				}
				if every {
					failsIn(t, k, how, (i+k)%2 != 0, want)
				}
			}
		})
	}
}

// failsIn lets the disk fail in one of the deeds, and does the rest.
func failsIn(t *testing.T, k int, how string, power bool, want string) {
	w := newTable(t, uint64(k))
	life := workingLife(w.dir)
	at := fmt.Sprintf("%s, power %v", how, power)
	for _, d := range life[:k] {
		require.NoError(t, d.do(w.b), "%s: %s", at, d.name)
	}
	before, open := w.lines(), openBatch(w.b)
	w.disk.how, w.disk.fuse = how, 1
	require.Error(t, life[k].do(w.b), at)
	v := View{}
	require.NoError(t, json.Unmarshal(w.b.Watch(nil).Latest(), &v))
	require.False(t, v.Recording.OK, at)
	require.Contains(t, v.Recording.Why.String(), w.disk.why.Error())
	require.ErrorIs(t, life[k].do(w.b), ErrRefused, at)
	w.off()
	if power {
		w.disk.power(t)
	}
	w.disk.mend()
	w.on()
	after := w.lines()
	require.GreaterOrEqual(t, len(after), len(before), at)
	for i := range before {
		require.Equal(t, string(before[i]), string(after[i]), at)
	}
	require.True(t, bytes.HasPrefix(w.disk.there, bytes.Join(after, nil)), "%s: the bench rests on what is not on the disk", at)
	now, again := openBatch(w.b), !w.since(len(before))
	switch {
	case strings.HasPrefix(life[k].name, "abandon"), strings.HasPrefix(life[k].name, "anew"):
		again = now.Mark == open.Mark // its reason may be there
	case strings.HasSuffix(life[k].name, "batch") || life[k].name == "a series":
		again = now == nil // what it taught may be there
	}
	if again {
		require.NoError(t, life[k].do(w.b), at)
	}
	for _, d := range life[k+1:] {
		require.NoError(t, d.do(w.b), "%s: %s", at, d.name)
	}
	require.Equal(t, want, w.counts(), at)
	w.off()
}

func openBatch(b *Bench) (open *batch.Batch) {
	_ = b.call(context.Background(), func() {
		if b.s.open() {
			open = b.s.Batch
		}
	})
	return open
}

// since tells whether something that a person did stands behind the first lines.
func (w *table) since(first int) bool {
	for _, l := range w.lines()[first:] {
		if f, _, err := fact.Decode(l); err == nil && f.By != "tared" {
			return true
		}
	}
	return false
}

// A journal that ends anywhere, at a line or within one, is a bench that goes on: it
// stands where its whole lines lead, and whatever batch is open can be finished.
func TestAnyBeginningOfAJournalGoesOn(t *testing.T) {
	w := newTable(t, 1)
	for _, d := range workingLife(w.dir) {
		require.NoError(t, d.do(w.b), d.name)
	}
	w.off()
	lines := w.lines()
	file := bytes.Join(lines, nil)
	n := 0
	for i := range lines {
		n += len(lines[i])
		next := 0
		if i+1 < len(lines) {
			next = len(lines[i+1])
		}
		for _, more := range []int{0, 1, next / 2, next - 1}[:2*batchesEach] {
			if more < 0 || more > next {
				continue
			}
			c := &table{t: t, dir: t.TempDir()}
			c.disk = newPlatter(c.dir, rand.New(rand.NewPCG(uint64(n), 5)))
			require.NoError(t, os.WriteFile(filepath.Join(c.dir, journal.Name), file[:n+more], 0o600))
			c.on()
			var shelf Workshop
			vessels := map[string]string{}
			for _, l := range lines[:i+1] {
				f, _, err := fact.Decode(l)
				require.NoError(t, err)
				shelf.Add(f)
				if v, ok := f.Body.(fact.Vessel); ok {
					vessels[v.Name] = v.Volume
				}
			}
			assert.Equal(t, shelf.Stock.Lots(), c.b.workshop.Stock.Lots(), "line %d", i+1)
			assert.Equal(t, shelf.Recipes.All(), c.b.workshop.Recipes.All(), "line %d", i+1)
			assert.Len(t, c.b.workshop.Vessels, len(vessels))
			for _, v := range c.b.workshop.Vessels {
				assert.Equal(t, vessels[v.Name], v.Volume)
			}
			cups := map[string]bool{}
			for tries := 0; openBatch(c.b) != nil; tries++ {
				require.Less(t, tries, 100, "the batch of line %d cannot be finished", i+1)
				c.goOn()
				if o := openBatch(c.b); o != nil {
					cups[o.Mark] = true
				}
			}
			c.off()
			if last := c.last(); last.Series.Cups > 0 {
				assert.EqualValues(t, 3, last.Series.Cup, "after line %d the series goes on to its last cup", i+1)
			}
		}
	}
}

// goOn does the next thing that the bench waits for.
func (w *table) goOn() {
	v := View{}
	require.NoError(w.t, json.Unmarshal(w.b.Watch(nil).Latest(), &v))
	word := "typed " + v.Now.Target + "g"
	switch v.Now.State {
	case "reminder":
		word = "yes Mara"
	case "paused":
		word = "resume"
	case "decide":
		word = v.Asked.Answers[0].Word
	}
	require.NoError(w.t, w.b.Do(context.Background(), ParseCommand(word)), "%s: %+v", word, v.Now)
}

// last is the plan of the batch that was begun last.
func (w *table) last() (p fact.Planned) {
	for _, l := range w.lines() {
		f, _, err := fact.Decode(l)
		require.NoError(w.t, err)
		if v, ok := f.Body.(fact.Planned); ok {
			p = v
		}
	}
	return p
}
