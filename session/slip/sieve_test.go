package slip

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Openings of ASTM E11 and ISO 3310 (from memory; 200 by onlycalculators.com),
// and of the British series (table of GTZ, 1987).
func TestOpening(t *testing.T) {
	for _, c := range []struct {
		number   int
		standard string
		want     int
	}{{30, US, 600}, {30, British, 500}, {60, US, 250}, {80, US, 180}, {100, US, 150}, {100, British, 152}, {200, US, 75}, {200, British, 76}, {325, US, 45}} {
		got, err := Opening(c.number, c.standard)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, "%d %s", c.number, c.standard)
	}
	got, err := Opening(200, US)
	require.NoError(t, err)
	assert.NotEqual(t, 127, got, "25 400 over the number is not the opening")
	for _, bad := range []struct {
		number   int
		standard string
	}{{85, US}, {325, British}, {0, US}, {100, "DIN"}, {100, ""}} {
		_, err := Opening(bad.number, bad.standard)
		assert.Error(t, err, "%v", bad)
	}
}
