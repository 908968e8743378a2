package session

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale/sim"
)

// The rig of the pour study is tried here by itself.

// Whatever came of a pour, the spoon brings it within the marks as the display
// shows them; a pour that is right at once needs no spoon, and a worse one longer.
func TestPourTrialIsMended(t *testing.T) {
	const g = protocol.Gram
	trial := func(seed uint64) pourTrial {
		return pourTrial{Seed: seed, Scale: sim.Of(g/10, 300*time.Millisecond, 0.2), Rate: 10, Potter: sim.Steady(), Material: sim.Free(), Container: 60,
			Target: 85 * g, Low: 84*g + g/5, High: 85*g + 4*g/5}
	}
	var over pourOutcome
	for seed := range uint64(20) {
		o, err := trial(seed).Run(&byReading{Low: 85 * g})
		require.NoError(t, err)
		require.Equal(t, "over", o.Verdict)
		assert.Positive(t, o.Spoons)
		assert.Greater(t, o.Right, o.Took+lookTime, "a display is believed only when it has stood")
		over = o

		// Stopped much too early: what is missing is tapped in.
		o, err = trial(seed).Run(&byReading{Low: 60 * g})
		require.NoError(t, err)
		require.Equal(t, "under", o.Verdict)
		assert.Positive(t, o.Spoons)
		assert.Positive(t, o.Right)
	}
	wide := trial(1)
	wide.Low, wide.High = 10*g, 200*g
	right, err := wide.Run(&byReading{Low: 85 * g})
	require.NoError(t, err)
	assert.Zero(t, right.Spoons)
	assert.Greater(t, right.Right, right.Took+lookTime)
	assert.Less(t, right.Right, over.Right)

	blind := trial(1)
	blind.Low, blind.High = 85*g+g/50, 85*g+g/25 // between two steps of the display
	o, err := blind.Run(&byReading{Low: 85 * g})
	require.NoError(t, err)
	assert.Equal(t, mostSpoon, o.Spoons)
	assert.Zero(t, o.Right, "never right")
}

func TestTrialsFindThePotterAndTheLag(t *testing.T) {
	// With no help, the overshoot grows with flow times (reaction + lag).
	mean := func(p sim.Potter, lag time.Duration) (sum float64) {
		for seed := range uint64(20) {
			tr := pourTrial{Seed: seed, Scale: sim.Of(100*protocol.Milligram, lag, 0.2), Rate: 10, Potter: p, Material: sim.Free(), Container: 120,
				Target: 100 * protocol.Gram, Low: 99 * protocol.Gram, High: 101 * protocol.Gram, Flow: 10}
			out, err := tr.Run(&byReading{Low: tr.Low})
			require.NoError(t, err)
			require.True(t, out.Told)
			require.InDelta(t, out.Landed, grams(out.Shown), 0.25)
			again, err := tr.Run(&byReading{Low: tr.Low})
			require.NoError(t, err)
			require.Equal(t, out, again)
			sum += out.Landed - 99
		}
		return sum / 20
	}
	p := sim.Steady()
	p.Lapses = 0
	short, long := mean(p, 100*time.Millisecond), mean(p, time.Second)
	assert.InDelta(t, 10*0.9, long-short, 1.5, "ten grams a second for nine tenths of a second more lag")
	slow := p
	slow.Reaction = 0.40
	assert.InDelta(t, 10*(0.40-p.Reaction), mean(slow, 100*time.Millisecond)-short, 0.7)
	// reaction 0.23 + closing 0.06 + lag 0.1 + half a line 0.05; what is in the air
	// already pushes on the pan.
	assert.InDelta(t, 10*0.44, short, 1.2)
}

func TestTrialWithDistractedPotterKnocksAndNobodyToStop(t *testing.T) {
	tr := pourTrial{Seed: 1, Scale: sim.Of(protocol.Gram, 500*time.Millisecond, 0.3), Rate: 4, Potter: sim.Distracted(), Material: sim.Lumpy(),
		Container: 300, Target: 200 * protocol.Gram, Low: 198 * protocol.Gram, High: 202 * protocol.Gram, Knocks: 0.3, Longest: 5 * time.Second}
	out, err := tr.Run(mute{})
	require.NoError(t, err)
	assert.False(t, out.Told)
	assert.InDelta(t, 5, out.Took.Seconds(), 0.3)
	assert.Contains(t, []string{"under", "over", "in"}, out.Verdict)
	assert.Positive(t, out.Landed)
}

type mute struct{}

func (mute) Tared(sim.Shown)       {}
func (mute) Hear(sim.Shown) string { return "ease" }

func BenchmarkTrial(b *testing.B) {
	for i := 0; b.Loop(); i++ {
		tr := pourTrial{Seed: uint64(i), Scale: sim.Bench(), Rate: 10, Potter: sim.Steady(), Material: sim.Free(), Container: 120,
			Target: 100 * protocol.Gram, Low: 99 * protocol.Gram, High: 101 * protocol.Gram}
		if _, err := tr.Run(&byReading{Low: tr.Low}); err != nil {
			b.Fatal(err)
		}
	}
}
