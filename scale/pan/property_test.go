package pan

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/scale"
)

// Whatever a scale shows and a caller tells: a pan weighs what is shown and its
// offsets, a copy of it believes the same, and after a gap no tare counts.
func TestAnything(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := New("bench", g("2000"), g("0.1"))
		now := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
		for range rapid.IntRange(1, 120).Draw(rt, "lines") {
			now = now.Add(time.Duration(rapid.SampledFrom([]int{20, 100, 100, 100, 500, 4000}).Draw(rt, "ms")) * time.Millisecond)
			m := rapid.SampledFrom([]string{"-150", "-100", "-20", "-0.6", "-0.1", "0", "0", "0.2", "0.7", "3", "10", "20", "99.9", "100", "100", "150", "180.3"}).Draw(rt, "shows")
			u := scale.Update{At: now, Link: scale.Up, Print: rapid.IntRange(0, 99).Draw(rt, "print") == 0, HasReading: true, HasMass: true, Mass: g(m), Step: g("0.1"),
				Settled: rapid.Bool().Draw(rt, "settled"), Late: rapid.IntRange(0, 9).Draw(rt, "late") == 0,
				Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram, Stable: protocol.Claim(rapid.IntRange(0, 2).Draw(rt, "stable")),
					Mode: rapid.SampledFrom([]protocol.Mode{protocol.ModeUnsaid, protocol.Gross, protocol.Net}).Draw(rt, "mode")}}
			twin := p
			e := p.Hear(u)
			require.Equal(rt, e, twin.Hear(u))
			require.Equal(rt, p, twin)
			if e != PutBack { // which may tell what a key weighed
				require.Equal(rt, u.Mass+p.Carried(), p.Gross(), "event %d", e)
			}
			switch n := rapid.IntRange(0, 5).Draw(rt, "what follows"); {
			case e == PutOn && n > 0:
				p.Stand(p.Gross())
				require.Zero(rt, p.Content())
			case e == PutBack && n > 0:
				p.Took()
				p.PourFrom(p.Gross(), p.Raw())
			case e == TakenOff && n == 0:
				p.SetAside()
			case e == Standing && n > 0:
				p.Stays()
			case e == EmptiedOut && n > 0:
				p.Rebase()
				require.LessOrEqual(rt, p.Vessel().Weight, p.Gross())
			case n == 5 && rapid.IntRange(0, 9).Draw(rt, "gap") == 0:
				p.Gap(now)
				require.False(rt, p.Live(now))
				require.NotEqual(rt, Container, p.On(), "after a gap no tare counts")
			}
		}
	})
}
