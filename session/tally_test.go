package session

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale"
	"tared/session/fact"
	"tared/session/plan"
)

func TestTallyCountsWhatWasHeardAndWritten(t *testing.T) {
	b, stop := benchOn(t, t.TempDir())
	defer stop()
	ctx := context.Background()
	_, err := b.Start(ctx, plan.Request{Recipe: "Quartz 100\n", Base: "50g", By: "Mara"})
	require.NoError(t, err)
	require.NoError(t, b.Do(ctx, Command{Word: "yes", By: "Mara"}))
	b.Feed(scale.Update{Scale: "bench", At: time.Now(), Link: scale.Up, Counts: scale.Counts{Frames: 40, Damaged: 2, Foreign: 1, Gaps: 3}})
	require.NoError(t, b.Do(ctx, Command{Word: "note", Rest: "damp"}))
	got, err := b.Tally(ctx)
	require.NoError(t, err)
	require.Equal(t, []ScaleTally{{"bench", true, 40, 2, 1, 3}, {Name: "fine"}}, got.Scales)
	assert.True(t, got.Recording)
	assert.True(t, got.Working)
	assert.Equal(t, b.s.Seq, got.Seq)
	assert.Zero(t, got.Takes)
	writes := uint64(0)
	for _, n := range got.Syncs {
		writes += n
	}
	assert.Positive(t, writes)
	assert.LessOrEqual(t, writes, got.Seq, "one write may have several lines")
	assert.Positive(t, got.SyncTime)
}

func TestTallyTellsSyncsApart(t *testing.T) {
	var c tallied
	for _, took := range []time.Duration{0, SyncBounds[0], SyncBounds[0] + 1, SyncBounds[3], time.Minute} {
		c.synced(took, []fact.Fact{{Body: fact.Noted{}}, {Body: fact.Portion{}}})
	}
	assert.Equal(t, [...]uint64{2, 1, 0, 1, 0, 0, 0, 0, 1}, c.syncs, "a bound belongs below, as le says")
	assert.EqualValues(t, 5, c.takes)
}
