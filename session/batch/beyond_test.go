package batch

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tared/protocol"
	"tared/session/fact"
)

// A mark that lies between two weights of the scale is passed by what the scale can show.
func TestTooMuchIsWhatTheScaleCanShow(t *testing.T) {
	const high, tenth = 17_288 * protocol.Milligram, protocol.Gram / 10
	for _, c := range []struct {
		amount, grain protocol.Mass
		over          bool
	}{
		{17_200 * protocol.Milligram, tenth, false},
		{17_300 * protocol.Milligram, tenth, false}, // by 0.012 g
		{17_388*protocol.Milligram - 1, tenth, false},
		{17_388 * protocol.Milligram, tenth, true}, // by a step
		{17_400 * protocol.Milligram, tenth, true},
		{high, 0, false},
		{high + 1, 0, true},
	} {
		st := Step{Line: fact.Line{Target: 17 * protocol.Gram, Low: 16_712 * protocol.Milligram, High: high}, Grain: c.grain, Delivered: c.amount}
		assert.Equal(t, c.over, st.Over(), c.amount)
		assert.Equal(t, !c.over, st.Done(), c.amount)
	}
}
