package session

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/plan"
)

// fullDisk is a recorder that stops taking facts, and what it took before.
type fullDisk struct {
	Recorder
	why error
}

func (f *fullDisk) Append(facts []fact.Fact) ([][]byte, error) {
	if f.why != nil {
		return nil, f.why
	}
	return f.Recorder.Append(facts)
}

// TestBlind: when nothing can be recorded, no hand is guided and no number shown; after
// recording works again, what lies in the container is asked about, not believed.
func TestBlind(t *testing.T) {
	dir := t.TempDir()
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	rec := &fullDisk{Recorder: Into(j)}
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	works := false
	b := New(Config{Recorder: rec, Past: past, Scales: benchScales, Now: func() time.Time { return now }, Reopen: func() (Recorder, Past, error) {
		_ = j.Close()
		if !works {
			return nil, Past{}, errors.New("still full")
		}
		j2, past, _, err := open(dir, time.Time{})
		if err == nil {
			t.Cleanup(func() { _ = j2.Close() })
		}
		return Into(j2), past, err
	}})
	from := protocol.Mass(0)
	say := func(m protocol.Mass, settled bool) {
		now = now.Add(100 * time.Millisecond)
		value, err := protocol.ParseDecimal(m.Grams(1))
		require.NoError(t, err)
		_ = b.input(Input{At: now, Update: &scale.Update{Scale: "bench", At: now, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: protocol.Gram / 10, Settled: settled,
			Reading: protocol.Reading{Value: value, Unit: "g", Raw: []byte(m.Grams(1))}}})
	}
	show := func(m protocol.Mass, n int) { // in three lines, and then at rest
		for i := range protocol.Mass(3) {
			say((from+(m-from)*(i+1)/4)/(protocol.Gram/10)*(protocol.Gram/10), false)
		}
		from = m
		for range n {
			say(m, true)
		}
	}
	_, err = b.start(plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Base: "100g", By: "Mara"})
	require.NoError(t, err)
	require.NoError(t, b.input(Input{At: now, Command: &Command{At: now, Word: "yes", Rest: "Mara"}}))
	show(0, 20)
	show(118400*protocol.Milligram, 30)
	require.Equal(t, "pour", b.view().Now.State)
	show((118400+60000)*protocol.Milligram, 30)
	require.Equal(t, "in", b.view().Now.State)
	full := b.s.Seq

	rec.why = errors.New("no space left on device")
	show(0, 10) // lifted
	v := b.view()
	assert.Equal(t, "blind", v.Now.State)
	assert.Equal(t, "lost", v.Now.Cue, "it sounds the alarm")
	assert.Empty(t, v.Now.In)
	assert.Empty(t, v.Now.Show.Digits)
	assert.Nil(t, v.Asked)
	require.Len(t, v.Keys, 1)
	assert.Equal(t, Record, v.Keys[0].Word)
	show(118400*protocol.Milligram, 30) // tipped, and back
	assert.Equal(t, "blind", b.view().Now.State)
	assert.Equal(t, full, b.s.Seq)

	err = recordWord(b)
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "still full")
	assert.Equal(t, "blind", b.view().Now.State)
	works, rec.why = true, nil
	require.NoError(t, recordWord(b))
	show(118400*protocol.Milligram, 10)
	v = b.view()
	assert.True(t, v.Recording.OK)
	require.NotNil(t, v.Asked, "what happened meanwhile is asked")
	assert.Equal(t, "gone", v.Asked.Question)
	assert.Contains(t, v.Asked.Says.String(), "60.0 g left the container", "it knows what was in")
	assert.Greater(t, b.s.Seq, full)
	assert.ErrorIs(t, recordWord(b), ErrRefused, "it works")
}

// recordWord says the word without a goroutine of the bench.
func recordWord(b *Bench) error {
	done := make(chan error, 1)
	go func() { done <- b.Do(context.Background(), Command{Word: Record}) }()
	(<-b.calls)()
	return <-done
}
