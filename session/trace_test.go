package session

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// points reads a trace: tenths of a second, and grams.
func points(t *testing.T, text string) (at []float64, g []protocol.Mass) {
	t.Helper()
	for _, p := range strings.Fields(text) {
		s, m, ok := strings.Cut(p, ":")
		require.True(t, ok, p)
		sec, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		mass, err := protocol.ParseMass(m + "g")
		require.NoError(t, err)
		at, g = append(at, sec), append(g, mass)
	}
	return at, g
}

// However long a pour is, its trace is short, in order, and ends where it rested.
func TestTraceIsShort(t *testing.T) {
	for _, lines := range []int{3, 30, 300, 3000, 30_000} {
		var tr trace
		start := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
		g := protocol.Mass(0)
		for i := range lines {
			if i > lines/3 && i%7 != 0 {
				g += 100 * protocol.Milligram
			}
			tr.add(start.Add(time.Duration(i)*100*time.Millisecond), 100*protocol.Gram+g)
		}
		text := tr.text(100*protocol.Gram, 1)
		if lines == 3 {
			assert.LessOrEqual(t, len(text), 30)
			continue
		}
		assert.LessOrEqual(t, len(text), 500, "%d lines", lines)
		at, m := points(t, text)
		require.LessOrEqual(t, len(at), tracePoints)
		assert.Zero(t, at[0])
		assert.Zero(t, m[0])
		assert.Equal(t, g, m[len(m)-1])
		for i := 1; i < len(at); i++ {
			assert.Greater(t, at[i], at[i-1])
			assert.GreaterOrEqual(t, m[i], m[i-1])
		}
		assert.InDelta(t, float64(lines-lines/3)/10, at[len(at)-1], 0.5, "what was before the pour is left out")
	}
}

// What stands in the journal of a pour: it begins at nothing, ends at the weight
// that was taken, and what the scale showed while the container went is not in it.
func TestPortionKeepsItsTrace(t *testing.T) {
	r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"))
	r.must("yes Mara")
	r.set("bench", "100")
	r.rest("bench", 5*time.Second) // nobody pours yet
	r.set("bench", "150")
	r.set("bench", "184.5")
	r.set("bench", "0")
	r.set("bench", "100.2")
	p := r.lastPortion()
	require.Equal(t, "84.3", p.Delivered.Grams(1))
	at, m := points(t, p.Trace)
	assert.Zero(t, m[0])
	assert.Equal(t, g("84.5"), m[len(m)-1])
	assert.Less(t, at[len(at)-1], 5.0)
	assert.Contains(t, p.Trace, ":50.0")
}

func BenchmarkTrace(b *testing.B) {
	var tr trace
	start := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	for i := 0; b.Loop(); i++ {
		tr.add(start.Add(time.Duration(i)*100*time.Millisecond), protocol.Mass(i)*protocol.Gram/10)
	}
}
