package batch

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tared/protocol"
	"tared/session/fact"
)

// A mark that lies between two weights of the scale is passed by what the scale can show.
func TestTooMuchIsWhatTheScaleCanShow(t *testing.T) {
	const high, tenth = 17_288_000_000 * protocol.Nanogram, protocol.Gram / 10
	for _, c := range []struct {
		amount, grain protocol.Mass
		over          bool
	}{
		{17_200_000_000, tenth, false},
		{17_300_000_000, tenth, false}, // by 0.012 g
		{17_387_999_999, tenth, false},
		{17_388_000_000, tenth, true}, // by a step
		{17_400_000_000, tenth, true},
		{high, 0, false},
		{high + 1, 0, true},
	} {
		st := Step{Line: fact.Line{Target: 17 * protocol.Gram, Low: 16_712_000_000, High: high}, Grain: c.grain, Delivered: c.amount}
		assert.Equal(t, c.over, st.Over(), c.amount)
		assert.Equal(t, !c.over, st.Done(), c.amount)
	}
}
