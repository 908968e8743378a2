package session

import (
	"context"
	"encoding/json"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/scale/sim"
	"tared/session/guide"
	"tared/session/plan"
)

// slowPour feeds a bench with a container that is tared, and with a pour of which a
// scale tells every half second, the last time at end. The pour gains 20 g a second
// and stands where it would land short of the target if it were stopped now, but not
// a quarter of a second later.
func slowPour(feed func(scale.Update), name string, target, container protocol.Mass, end time.Time) {
	step := g("0.1")
	line := func(at time.Time, m protocol.Mass, settled bool) {
		feed(scale.Update{Scale: name, At: at, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: step, Settled: settled,
			Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram}})
	}
	const every = 500 * time.Millisecond
	horizon := guide.UsualReaction + pan.UsualLag + guide.InTheAir
	last := target - guide.Brings(g("20"), horizon+time.Second/4)
	lines := int(last/g("10")) - 1
	at := end.Add(-time.Duration(lines+12) * every)
	for i := range 12 {
		m := protocol.Mass(0)
		if i >= 4 {
			m = container
		}
		line(at, m, i != 4)
		at = at.Add(every)
	}
	for i := range lines + 1 {
		line(at, container+(last-protocol.Mass(lines-i)*g("10"))/step*step, false)
		at = at.Add(every)
	}
}

// A scale that speaks twice a second is silent in the moment in which the hand must
// be stopped. The bench says so between two lines.
func TestStopIsSaidBetweenTwoLines(t *testing.T) {
	synctest.Test(t, stopBetweenTwoLines)
}

func stopBetweenTwoLines(t *testing.T) {
	ctx := context.Background()
	b, end := benchOn(t, t.TempDir())
	defer end()
	_, err := b.Start(ctx, plan.Request{Recipe: recipeText, Base: "400g", By: "Mara"})
	require.NoError(t, err)
	require.NoError(t, b.Do(ctx, Command{Word: "yes"}))
	news := make(chan struct{}, 1)
	w := b.Watch(func() {
		select {
		case news <- struct{}{}:
		default:
		}
	})
	defer w.Close()
	slowPour(b.Feed, "bench", g("164"), g("120"), time.Now())
	seen := []string{}
	for limit := time.After(10 * time.Second); ; {
		select {
		case <-news:
			var v View
			require.NoError(t, json.Unmarshal(w.Latest(), &v))
			if seen = append(seen, v.Now.State+" "+v.Now.Cue); v.Now.Cue == "stop" {
				return
			}
		case <-limit:
			require.Fail(t, "stop was never said", "%q", seen)
		}
	}
}

// The same without a clock: at the line it is too early, a quarter of a second later
// it is time, and a scale that is silent for longer does not pour on for ever.
func TestUnseenPour(t *testing.T) {
	row := studyRow{"", "base", sim.Of(g("0.1"), 300*time.Millisecond, 0), "164.0", "1.6", sim.Steady(), sim.Free(), 2}
	b := newByBench(row)
	end := time.Unix(1000, 0)
	slowPour(func(u scale.Update) {
		next, _, err := Next(b.s, Input{At: u.At, Update: &u})
		require.NoError(t, err)
		b.s = next
	}, "s", g("164"), g("120"), end)
	cue := func(after time.Duration) string {
		s, _, err := Next(b.s, Input{At: end.Add(after)})
		require.NoError(t, err)
		return s.View().Now.Cue
	}
	require.True(t, b.s.hurry)
	require.Equal(t, "ease", cue(0))
	require.Equal(t, "ease", cue(150*time.Millisecond))
	require.Equal(t, "stop", cue(350*time.Millisecond))
	s, _, err := Next(b.s, Input{At: end.Add(3 * time.Second)})
	require.NoError(t, err)
	require.False(t, s.hurry, "a scale that is silent for so long is lost")
}
