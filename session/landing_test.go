package session

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/sim"
)

// ramp feeds a pan with a reading for each time.
func feed(p *Pan, start time.Time, every time.Duration, n int, at func(seconds float64) float64) time.Time {
	var set scale.Settler
	now := start
	for i := range n {
		now = start.Add(time.Duration(i) * every)
		m := protocol.Mass(math.Round(at(float64(i)*every.Seconds())*10)) * g("0.1")
		u := scale.Update{At: now, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: g("0.1"),
			Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram}}
		u.Settled = set.Add(now, m, u.Step, protocol.Unsaid)
		p.hear(u)
	}
	return now
}

func TestFlow(t *testing.T) {
	for _, c := range []struct {
		name  string
		every time.Duration
		at    func(s float64) float64
		want  float64 // grams a second
		off   float64
	}{
		{"ten lines a second", 100 * time.Millisecond, func(s float64) float64 { return 20 * s }, 20, 0.3},
		{"two lines a second", 500 * time.Millisecond, func(s float64) float64 { return 8 * s }, 8, 0.3},
		{"twenty, noisy by a step", 50 * time.Millisecond, func(s float64) float64 { return 5*s + 0.05*math.Sin(90*s) }, 5, 0.5},
		{"standing still", 100 * time.Millisecond, func(float64) float64 { return 84.6 }, 0, 0},
		{"taken out", 100 * time.Millisecond, func(s float64) float64 { return 90 - 3*s }, -3, 0.3},
		{"eased a second ago", 100 * time.Millisecond, func(s float64) float64 {
			if s < 3 {
				return 20 * s
			}
			return 60 + 4*(s-3)
		}, 4, 0.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := Pan{On: Container, Weight: g("60"), Step: g("0.1")}
			n := int(3.9/c.every.Seconds()) + 1
			feed(&p, time.Unix(0, 0), c.every, n, c.at)
			require.InDelta(t, c.want, float64(p.flow())/float64(protocol.Gram), c.off)
		})
	}
}

// The step response of a one-pole filter is 1 - e^(-t/tau); a container put down
// makes one.
func TestLagIsLearntFromTheContainer(t *testing.T) {
	for _, tau := range []float64{0.15, 0.3, 0.6, 1.2} {
		p := Pan{Step: g("0.1")}
		now := feed(&p, time.Unix(0, 0), 100*time.Millisecond, 30, func(float64) float64 { return 0 })
		feed(&p, now.Add(100*time.Millisecond), 100*time.Millisecond, 200, func(s float64) float64 { return 123.4 * (1 - math.Exp(-s/tau)) })
		require.InEpsilon(t, tau, p.Lag.Seconds(), 0.2, "tau %v", tau)
	}
	p := Pan{Step: g("0.1")}
	feed(&p, time.Unix(0, 0), 100*time.Millisecond, 60, func(s float64) float64 { return math.Min(123.4, 1000*s) })
	require.Zero(t, p.Lag, "one that stands at once shows no lag to learn from")
}

// The same potter is told to stop many times. What is learnt is not the bare
// reaction time but all that the usual one leaves unsaid of this potter: how long
// the hand takes to close, how an eased flow is judged. So the pours are to land
// nearer to the target than without it, and inside the band on the whole: a hand
// that is not always as quick is stopped a little under the target.
func TestReactionIsLearntFromStops(t *testing.T) {
	for _, potter := range []sim.Potter{sim.Hurried(), sim.Steady(), sim.Trembling()} {
		row := studyRow{"", "base", sim.Of(g("0.1"), 300*time.Millisecond, 0.2), "85.0", "0.8", potter, sim.Free(), 20}
		learnt := map[string]time.Duration(nil)
		var with, without float64 // mean of the signed deviations, in grams
		const pours = 60
		for seed := range uint64(pours) {
			b := newByBench(row)
			b.s.React = learnt
			o, err := row.trial(seed + 1).Run(b)
			require.NoError(t, err)
			learnt = b.s.React
			plain, err := row.trial(seed + 1).Run(newByBench(row))
			require.NoError(t, err)
			if seed >= pours/3 {
				with += (o.Landed - 85) / (pours * 2 / 3)
				without += (plain.Landed - 85) / (pours * 2 / 3)
			}
		}
		t.Logf("%s: learnt %v, lands %.2f g from the target on the whole, without %.2f", potter.Name, learnt["Mara"], with, without)
		require.LessOrEqual(t, math.Abs(with), math.Abs(without)+0.1, potter.Name)
		require.Less(t, with, 0.1, potter.Name)
		require.Greater(t, with, -0.8, potter.Name)
	}
}

func TestRelearn(t *testing.T) {
	r := two(t)
	r.s.React = map[string]time.Duration{"Mara": 400 * time.Millisecond}
	r.s.Pans[0].Lag = time.Second
	r.must("relearn")
	require.Equal(t, usualReaction, r.s.reaction())
	require.Equal(t, usualLag, r.s.Pans[0].lag())
}

// What is learnt of one person is not what is learnt of another, and each of it is
// shown and can be learnt anew, also with no batch in work.
func TestLearntIsShownAndLearntAnew(t *testing.T) {
	r := two(t)
	r.s.React = map[string]time.Duration{"Mara": 400 * time.Millisecond, "Ilse": 180 * time.Millisecond}
	r.s.Pans[0].Lag, r.s.Pans[1].Lag = 310*time.Millisecond, 620*time.Millisecond
	v := r.s.View()
	require.Equal(t, []LearntView{{"Ilse", "0.18 s"}, {"Mara", "0.40 s"}}, v.Learnt)
	require.Equal(t, []string{"0.31 s", "0.62 s"}, []string{v.Scales[0].Lag, v.Scales[1].Lag})
	require.Equal(t, 400*time.Millisecond, r.s.reaction())
	r.must("by Ilse")
	require.Equal(t, 180*time.Millisecond, r.s.reaction(), "her own")
	require.Equal(t, "Ilse", r.s.View().Batch.By)
	require.Equal(t, "Ilse weighs from here on.", r.s.View().Said[0].Words)
	r.must("relearn Ilse")
	r.must("relearn fine")
	v = r.s.View()
	require.Equal(t, []LearntView{{"Mara", "0.40 s"}}, v.Learnt)
	require.Equal(t, []string{"0.31 s", ""}, []string{v.Scales[0].Lag, v.Scales[1].Lag})
	require.ErrorIs(t, r.do("relearn Ida"), ErrRefused)
	r.must("abandon test")
	r.must("relearn")
	require.Empty(t, r.s.View().Learnt)
}
