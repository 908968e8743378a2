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
