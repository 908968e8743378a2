package sim

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// Whatever came of a pour, the spoon brings it within the marks as the display
// shows them; a pour that is right at once needs no spoon, and a worse one longer.
func TestTrialIsMended(t *testing.T) {
	const g = protocol.Gram
	trial := func(seed uint64) Trial {
		return Trial{Seed: seed, Scale: Of(g/10, 300*time.Millisecond, 0.2), Rate: 10, Potter: Steady(), Material: Free(), Container: 60,
			Target: 85 * g, Low: 84*g + g/5, High: 85*g + 4*g/5}
	}
	var over Outcome
	for seed := range uint64(20) {
		o, err := trial(seed).Run(&ByReading{Low: 85 * g})
		require.NoError(t, err)
		require.Equal(t, "over", o.Verdict)
		assert.Positive(t, o.Spoons)
		assert.Greater(t, o.Right, o.Took+lookTime, "a display is believed only when it has stood")
		over = o

		// Stopped much too early: what is missing is tapped in.
		o, err = trial(seed).Run(&ByReading{Low: 60 * g})
		require.NoError(t, err)
		require.Equal(t, "under", o.Verdict)
		assert.Positive(t, o.Spoons)
		assert.Positive(t, o.Right)
	}
	wide := trial(1)
	wide.Low, wide.High = 10*g, 200*g
	right, err := wide.Run(&ByReading{Low: 85 * g})
	require.NoError(t, err)
	assert.Zero(t, right.Spoons)
	assert.Greater(t, right.Right, right.Took+lookTime)
	assert.Less(t, right.Right, over.Right)

	blind := trial(1)
	blind.Low, blind.High = 85*g+g/50, 85*g+g/25 // between two steps of the display
	o, err := blind.Run(&ByReading{Low: 85 * g})
	require.NoError(t, err)
	assert.Equal(t, mostSpoon, o.Spoons)
	assert.Zero(t, o.Right, "never right")
}
