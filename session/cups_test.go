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
