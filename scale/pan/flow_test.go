package pan

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
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
		p.Hear(u)
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
			p := New("bench", 0, g("0.1"))
			n := int(3.9/c.every.Seconds()) + 1
			feed(&p, time.Unix(0, 0), c.every, n, c.at)
			require.InDelta(t, c.want, float64(p.Flow())/float64(protocol.Gram), c.off)
		})
	}
}

// As much as a bench holds, put on at once, is a container and no powder, and its flow
// is no weight gone round; a tenth of it that trickles in is powder.
func TestHeavyLoadsDoNotWrap(t *testing.T) {
	heavy := float64(protocol.OnBench / protocol.Gram)
	for _, c := range []struct {
		name  string
		at    func(s float64) float64
		sharp bool
	}{
		{"put on", func(s float64) float64 { return heavy * math.Min(1, math.Max(0, s-1)/0.15) }, true},
		{"trickling", func(s float64) float64 { return heavy / 10 * math.Max(0, s-1) / 9 }, false},
	} {
		p := New("bench", 0, g("0.1"))
		now := feed(&p, time.Unix(0, 0), 50*time.Millisecond, 24, c.at)
		require.Positive(t, p.Flow(), c.name)
		feed(&p, now.Add(50*time.Millisecond), 50*time.Millisecond, 60, func(s float64) float64 { return c.at(1.2 + s) })
		require.Equal(t, c.sharp, p.Sharp(protocol.Mass(c.at(4.2)*float64(protocol.Gram))), c.name)
		require.GreaterOrEqual(t, p.Flow(), protocol.Mass(0), c.name)
	}
}

// The step response of a one-pole filter is 1 - e^(-t/tau); a container put down
// makes one.
func TestLagIsLearntFromTheContainer(t *testing.T) {
	for _, tau := range []float64{0.15, 0.3, 0.6, 1.2} {
		p := New("bench", 0, g("0.1"))
		now := feed(&p, time.Unix(0, 0), 100*time.Millisecond, 30, func(float64) float64 { return 0 })
		feed(&p, now.Add(100*time.Millisecond), 100*time.Millisecond, 200, func(s float64) float64 { return 123.4 * (1 - math.Exp(-s/tau)) })
		require.InEpsilon(t, tau, p.lag.Seconds(), 0.2, "tau %v", tau)
	}
	// Nor from what was seen before it was put down: the way up of one that was lifted full.
	for _, poured := range []float64{2, 5, 12} {
		p := New("bench", 0, g("0.1"))
		now := feed(&p, time.Unix(0, 0), 100*time.Millisecond, 30, func(float64) float64 { return 0 })
		now = feed(&p, now.Add(100*time.Millisecond), 100*time.Millisecond, 30, func(s float64) float64 { return 123.4 * (1 - math.Exp(-s/0.15)) })
		now = feed(&p, now.Add(100*time.Millisecond), 100*time.Millisecond, 50, func(s float64) float64 { return 123.4 + math.Min(poured, 5*s) })
		now = feed(&p, now.Add(100*time.Millisecond), 100*time.Millisecond, 30, func(s float64) float64 { return (123.4 + poured) * math.Exp(-s/0.15) })
		feed(&p, now.Add(100*time.Millisecond), 100*time.Millisecond, 30, func(s float64) float64 { return 123.4 * (1 - math.Exp(-s/0.15)) })
		require.InEpsilon(t, 0.15, p.lag.Seconds(), 0.2, "poured %v", poured)
	}
	p := New("bench", 0, g("0.1"))
	feed(&p, time.Unix(0, 0), 100*time.Millisecond, 60, func(s float64) float64 { return math.Min(123.4, 1000*s) })
	require.Zero(t, p.lag, "one that stands at once shows no lag to learn from")
}

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}
