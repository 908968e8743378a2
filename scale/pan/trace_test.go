package pan

import (
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// pointsOf reads a trace: tenths of a second, and grams.
func pointsOf(t *testing.T, text string) (at []float64, g []protocol.Mass) {
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
		at, m := pointsOf(t, text)
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

func BenchmarkTrace(b *testing.B) {
	var tr trace
	start := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	for i := 0; b.Loop(); i++ {
		tr.add(start.Add(time.Duration(i)*100*time.Millisecond), protocol.Mass(i)*protocol.Gram/10)
	}
}
