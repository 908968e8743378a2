package session

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/sheet"
)

// TestACupTakesEntriesAtOnce: what is done with a cup of a series is recorded as soon as
// the cup is closed, by the bench that filled it, while it fills the next one.
func TestACupTakesEntriesAtOnce(t *testing.T) {
	dir := t.TempDir()
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	b := New(Config{Recorder: Into(j), Past: past, Scales: []sheet.Scale{{Name: "fine", Eye: true, Step: protocol.Gram / 100, Max: protocol.Kilogram}}})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	defer func() { cancel(); require.NoError(t, <-done); require.NoError(t, j.Close()) }()
	w := b.Watch(nil)
	defer w.Close()
	tub, err := b.Start(ctx, plan.Request{Recipe: "Quartz 60\nWhiting 40\n", By: "Mara", Series: &plan.Series{Cup: "100g", Vary: []plan.Addition{{Material: "Rutile", Levels: "2 4"}}}})
	require.NoError(t, err)
	word := func(s string) { require.NoError(t, b.Do(ctx, ParseCommand(s)), s) }
	for range 40 {
		v := view(t, w)
		if v.Batch.Mark == tub+"-2" {
			break
		}
		switch {
		case v.Now.State == "reminder":
			word("yes Mara")
		case v.Asked != nil && v.Asked.Question == "mix":
			word("yes")
		default:
			word("typed " + strings.TrimSpace(v.Now.Target) + "g")
		}
	}
	require.Equal(t, tub+"-2", view(t, w).Batch.Mark, "the second cup is in work")
	r := EntryRequest{Batch: tub + "-1", By: "Mara", Judged: &fact.Judged{Tile: "KD-A", Verdict: "again"}}
	_, err = b.AddEntry(ctx, r, nil)
	require.NoError(t, err)
	r.Batch = tub + "-2"
	_, err = b.AddEntry(ctx, r, nil)
	assert.ErrorIs(t, err, ErrRefused, "it is in work")
}

// noting keeps what is recorded in mind.
type noting struct {
	Recorder
	all *[]fact.Fact
}

func (n noting) Append(facts []fact.Fact) ([][]byte, error) {
	*n.all = append(*n.all, facts...)
	return n.Recorder.Append(facts)
}

// The cups of a series take a colourant out of one mixture, or solution, that was made first:
// each its own part, and the carrier comes off the cup's own. By hand, with cups of 200 g:
// of 12.0 g in 480 g, 1 in 40, the cups take 16, 40 and 80 g, which bring 15.6, 39 and 78 g
// of the 80 g of quartz; 480 g less 136 g are left.
func TestTheCupsOfASeriesTakeFromOneMixture(t *testing.T) {
	for _, c := range []struct {
		material, carrier string
		water             string
		own               []string // of the carrier, in each cup
	}{
		{"Cobalt carbonate", "Quartz", "", []string{"64.4", "41.0", "2.0"}},
		// 85 % of 210.4, 211 and 212 g dry are 178.84, 179.35 and 180.2 g of water.
		{"Cobalt sulfate", "Water", "85%", []string{"163.2", "140.4", "102.2"}},
	} {
		dir := t.TempDir()
		j, past, _, err := open(dir, time.Time{})
		require.NoError(t, err)
		var all []fact.Fact
		b := New(Config{Recorder: noting{Into(j), &all}, Past: past, Scales: []sheet.Scale{{Name: "bench", Eye: true, Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram}}})
		ctx, cancel := context.WithCancel(context.Background())
		done := make(chan error, 1)
		go func() { done <- b.Run(ctx) }()
		w := b.Watch(nil)
		wish := plan.Request{Recipe: "Quartz 40\nPotash feldspar 35\nBall clay 25\n+ Tin oxide 5\n", By: "Mara", Water: c.water, Aliquot: []string{c.material},
			Series: &plan.Series{Cup: "200g", Vary: []plan.Addition{{Material: c.material, Levels: "0.2 0.5 1"}}}}
		_, err = b.Start(ctx, wish)
		require.ErrorContains(t, err, "Mix that first", "it says what")
		got, err := b.Keep(ctx, KeepRequest{By: "Mara", Mixed: &MixedRequest{Material: c.material, Weighed: "12.0g", Carrier: c.carrier, Into: "468.0g"}})
		require.NoError(t, err)
		assert.Equal(t, "L1", got.Lot)
		tub, err := b.Start(ctx, wish)
		require.NoError(t, err)
		word := func(s string) { require.NoError(t, b.Do(ctx, ParseCommand(s)), s) }
		var own []string
		for range 60 {
			v := view(t, w)
			switch {
			case v.Now.State == "finished":
			case v.Now.State == "reminder":
				word("yes Mara")
				continue
			case v.Asked != nil && v.Asked.Question == "mix":
				word("yes")
				continue
			default:
				if v.Now.Material == c.carrier && v.Batch.Mark != tub {
					own = append(own, strings.TrimSpace(v.Now.Target))
				}
				word("typed " + strings.TrimSpace(v.Now.Target) + "g")
				continue
			}
			break
		}
		require.Equal(t, "finished", view(t, w).Now.State)
		assert.Equal(t, c.own, own, c.material)
		lots, _, err := b.LotsAndRecipes(ctx)
		require.NoError(t, err)
		assert.Equal(t, "344 g", lots[0].Left.String())
		w.Close()
		cancel()
		require.NoError(t, <-done)
		require.NoError(t, j.Close())
		want := []string{"0.4000", "1.0000", "2.0000"}
		for _, f := range all {
			v, ok := f.Body.(fact.Finished)
			if !ok || f.Batch == tub {
				continue
			}
			for _, l := range v.Lines {
				assert.Equal(t, "in", l.Verdict, "%s: %s", f.Batch, l.Material)
				if l.Material == c.material {
					assert.Equal(t, want[0], l.Delivered.Rounded(4))
					want = want[1:]
				}
			}
			assert.InDelta(t, 200, grams(v.Base), 0.2, "all of the base, %s", f.Batch)
		}
		assert.Empty(t, want)
	}
}
