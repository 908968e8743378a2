package main

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale/sim"
)

// The first water is the last step of the real program: it is there again after the
// power failed, and the batch is closed by it.
func TestWaterIsWeighedToTheEnd(t *testing.T) {
	t.Parallel() // it takes the time that a pan takes to settle
	r := newRig(t, "# Grotto, invented for tests\nQuartz 60\nBall clay 40\nWater 80%\n", "50g")
	r.start()
	r.until("asked", nil)
	r.say("yes Ilse")
	r.state("container")
	r.hand(sim.Put)
	r.until("tared", nil)
	for _, material := range []string{"Quartz", "Ball clay"} {
		r.weigh(material)
	}
	now := r.until("now", func(v map[string]any) bool { return v["material"] == "Water" && v["state"] == "pour" })
	assert.InDelta(t, 40, target(t, now), 0.9, "80 %% of what went in")

	require.NoError(t, r.cmd.Process.Kill())
	_ = r.cmd.Wait()
	r.start()
	r.until("resumed", nil)
	p := r.weigh("Water")
	assert.Equal(t, "in", p["verdict"])
	finished := r.until("finished", nil)
	mark := finished["batch"].(string)
	water, _ := finished["water"].(map[string]any)
	require.NotNil(t, water, "the closing line says what water went in")
	assert.Equal(t, "in", water["verdict"])
	require.NoError(t, r.in.Close())
	require.NoError(t, ends(t, r.cmd), r.errs.String())

	got := runTared(t, "", "record", mark, "--data", r.dir, "--json")
	require.Equal(t, exitDone, got.code, got.err)
	var made struct {
		Water struct {
			Verdict string `json:"verdict"`
		} `json:"water"`
		Lines []struct{} `json:"lines"`
		Hash  string     `json:"hash"`
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &made))
	assert.Equal(t, "in", made.Water.Verdict)
	assert.Len(t, made.Lines, 2)
	got = runTared(t, "", "water", mark, "--data", r.dir)
	assert.Contains(t, got.out, "of water went in")
	assert.Contains(t, got.out, "measure it the next day")
	checkChain(t, r.dir, made.Hash)
}
