package sheet

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

func TestMarks(t *testing.T) {
	for _, c := range []struct{ low, high, step, up, down string }{
		{"7.84g", "8.16g", "0.1g", "7.9g", "8.1g"},
		{"7.8g", "8.2g", "0.1g", "7.8g", "8.2g"},
		{"83.754g", "85.446g", "0.5g", "84g", "85g"},
		{"1.17g", "1.23g", "1g", "1.17g", "1.23g"}, // no reading lies in it
		{"-0.24g", "0.26g", "0.1g", "-0.2g", "0.2g"},
		{"-0.26g", "-0.04g", "0.1g", "-0.2g", "-0.1g"},
	} {
		m := func(s string) protocol.Mass { v, err := protocol.ParseMass(s); require.NoError(t, err); return v }
		up, down := Marks(m(c.low), m(c.high), m(c.step), 0, 0)
		require.Equal(t, [2]protocol.Mass{m(c.up), m(c.down)}, [2]protocol.Mass{up, down}, c.low)
	}
	rapid.Check(t, func(t *rapid.T) {
		low := protocol.Mass(rapid.Int64Range(-1e15, 1e15).Draw(t, "low"))
		high := low + protocol.Mass(rapid.Int64Range(0, 1e14).Draw(t, "width"))
		step := protocol.Mass(rapid.Int64Range(1, 1e13).Draw(t, "step"))
		up, down := Marks(low, high, step, 0, 0)
		require.True(t, low <= up && up <= down && down <= high)
	})
}
