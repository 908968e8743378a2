package session

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/plan"
)

// tiredDisk takes its time for each record.
type tiredDisk struct {
	Recorder
	takes time.Duration
}

func (d tiredDisk) Append(facts []fact.Fact) ([][]byte, error) {
	time.Sleep(d.takes)
	return d.Recorder.Append(facts)
}

// A hundred lines a second come while a fact is recorded each half second, on a disk that
// takes longer than from one line to the next. Each line is shown before the next one
// comes, and then none that is older.
func TestEachLineIsShownWhileTheDiskIsAtWork(t *testing.T) {
	for _, takes := range []time.Duration{0, 4 * time.Millisecond, 37 * time.Millisecond, 180 * time.Millisecond} {
		t.Run(takes.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) { eachLineIsShown(t, takes) })
		})
	}
}

func eachLineIsShown(t *testing.T, takes time.Duration) {
	ctx := context.Background()
	b, end := benchOn(t, t.TempDir())
	defer end()
	_, err := b.Start(ctx, plan.Request{Recipe: recipeText, Base: "400g", By: "Mara"})
	require.NoError(t, err)
	require.NoError(t, b.Do(ctx, Command{Word: "yes"}))
	require.NoError(t, b.call(ctx, func() { b.cfg.Recorder = tiredDisk{b.cfg.Recorder, takes} }))
	var mu sync.Mutex
	var seen []string
	var w *Watcher
	w = b.Watch(func() {
		mu.Lock()
		defer mu.Unlock()
		if shows := w.View().Scales[0].Shows; len(seen) == 0 || seen[len(seen)-1] != shows {
			seen = append(seen, shows)
		}
	})
	defer w.Close()
	var noted atomic.Int64
	var notes sync.WaitGroup
	var said []string
	for i := range 400 {
		if i%50 == 25 {
			notes.Go(func() {
				if b.Do(ctx, Command{Word: "note", Rest: "the whiting is damp"}) == nil {
					noted.Add(1)
				}
			})
		}
		m := g("150") + protocol.Mass(i)*g("0.3")
		shows := m.Grams(1)
		value, err := protocol.ParseDecimal(shows)
		require.NoError(t, err)
		b.Feed(scale.Update{Scale: "bench", At: time.Now(), Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: g("0.1"), Counts: scale.Counts{Frames: uint64(i)},
			Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram, Value: value, Raw: []byte(shows)}})
		said = append(said, shows)
		time.Sleep(10 * time.Millisecond)
		mu.Lock()
		at := slices.Index(seen, shows)
		mu.Unlock()
		require.GreaterOrEqual(t, at, 0, "line %d, %s g, is not shown", i, shows)
	}
	notes.Wait()
	require.EqualValues(t, 8, noted.Load())
	require.Equal(t, said, seen[len(seen)-len(said):])
}

// A line from which no fact follows wakes nobody: it is shown when Feed returns.
func TestALineIsShownByWhoBringsIt(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b, end := benchOn(t, t.TempDir())
		defer end()
		synctest.Wait() // it runs
		w := b.Watch(nil)
		defer w.Close()
		for i := range 100 {
			shows := (g("12.3") + protocol.Mass(i)*g("0.1")).Grams(1)
			value, err := protocol.ParseDecimal(shows)
			require.NoError(t, err)
			b.Feed(scale.Update{Scale: "bench", At: time.Now(), Link: scale.Up, HasReading: true, HasMass: true, Mass: g(shows), Step: g("0.1"),
				Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram, Value: value, Raw: []byte(shows)}})
			require.Equal(t, shows, w.View().Scales[0].Shows)
		}
	})
}
