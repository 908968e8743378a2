//go:build unix

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale/sim"
)

// twoScales is a rig with a second scale.
func twoScales(t *testing.T, recipe, base string) *rig {
	r := &rig{t: t, dir: t.TempDir()}
	var err error
	r.clock, err = sim.NewClock(1)
	require.NoError(t, err)
	var places []sim.Place
	for _, p := range []sim.Place{{Name: "bench", Model: sim.Bench(), Container: 118.4}, {Name: "fine", Model: sim.Fine(), Container: 21.37}} {
		p.Model.Noise, p.Model.Draught = 0, 0 // a quiet room: this test is about the program
		places = append(places, p)
	}
	r.world, err = sim.NewWorld(7, r.clock.Now(), places...)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	var lines sync.WaitGroup
	t.Cleanup(func() { cancel(); lines.Wait() })
	r.args = []string{"weigh", writeFile(t, "recipe.txt", recipe), "--base", base, "--json", "--data", r.dir, "--by", "Ilse"}
	for name, format := range map[string]string{"bench": "header-comma-mode", "fine": "letter-status"} {
		src, err := r.world.Scale(name)
		require.NoError(t, err)
		port := filepath.Join(t.TempDir(), "tty")
		l, err := sim.NewLine(src, sim.LineOptions{Format: format, Clock: r.clock, Link: port})
		require.NoError(t, err)
		lines.Go(func() { _ = l.Run(ctx) })
		step := map[string]string{"bench": "step=0.1g,max=2000g", "fine": "step=0.01g,max=300g"}[name]
		if name == "bench" { // the one that is preferred
			r.args = append([]string{r.args[0], r.args[1], "--scale", "name=bench,port=" + port + ",format=" + format + ",baud=9600," + step}, r.args[2:]...)
		} else {
			r.args = append(r.args, "--scale", "name=fine,port="+port+",format="+format+",baud=9600,"+step)
		}
	}
	return r
}

func (r *rig) on(scale string, verb sim.Verb, after time.Duration, more ...func(*sim.Action)) {
	r.hand(verb, after, append(more, func(a *sim.Action) { a.Scale = scale })...)
}

func (r *rig) run(scale, material string, grams float64) {
	r.on(scale, sim.Pour, 0, func(a *sim.Action) {
		a.Flow = sim.Flow{Material: material, Rate: grams / 5, Rise: 0.1, Cut: 0.05, Left: grams}
	})
}

// The potter uses the other scale: a good one is followed, one that is not good
// takes nothing, and where two materials can be meant the program asks.
func TestWeighOnTheOtherScale(t *testing.T) {
	t.Parallel() // it takes the time that a pan takes to settle
	r := twoScales(t, "# Grotto, invented for tests\nQuartz 60\nWhiting 40\n+ Copper carbonate 3\n", "100g")
	r.start()
	r.until("asked", nil)
	r.say("yes Ilse")
	r.until("now", func(v map[string]any) bool {
		return v["material"] == "Quartz" && v["scale"] == "bench" && v["state"] == "container"
	})

	// Quartz on the fine scale, which waits for the copper too.
	r.on("fine", sim.Put, 0)
	time.Sleep(6 * time.Second) // no line says that a scale out of turn has come to rest
	r.run("fine", "Quartz", 60)
	asked := r.until("asked", func(v map[string]any) bool { return v["question"] == "which" })
	assert.Equal(t, []any{"keep", "next", "again"}, asked["answers"])
	r.say("keep")
	moved := r.until("moved", nil)
	assert.Equal(t, []any{"Quartz", "bench", "fine"}, []any{moved["material"], moved["from"], moved["to"]})
	r.until("now", func(v map[string]any) bool { return v["scale"] == "fine" && v["state"] == "in" })
	r.on("fine", sim.Lift, 0)
	r.on("fine", sim.Tip, 700*time.Millisecond)
	r.on("fine", sim.Put, 1400*time.Millisecond)
	p := r.until("portion", nil)
	assert.Equal(t, []any{"Quartz", "fine", "in"}, []any{p["material"], p["scale"], p["verdict"]})

	// Whiting where it belongs.
	r.until("now", func(v map[string]any) bool { return v["material"] == "Whiting" && v["scale"] == "bench" })
	r.on("bench", sim.Put, 0)
	r.until("tared", nil)
	r.run("bench", "Whiting", 40)
	r.until("now", func(v map[string]any) bool { return v["state"] == "in" })
	r.on("bench", sim.Lift, 0)
	r.on("bench", sim.Tip, 700*time.Millisecond)
	r.on("bench", sim.Put, 1400*time.Millisecond)
	p = r.until("portion", nil)
	assert.Equal(t, "Whiting", p["material"])

	// Copper on the bench scale, which is blind for it: nothing is taken.
	r.until("now", func(v map[string]any) bool { return v["material"] == "Copper carbonate" && v["scale"] == "fine" })
	time.Sleep(4 * time.Second)
	r.run("bench", "Copper carbonate", 3)
	n := r.until("noticed", nil)
	assert.Equal(t, "wrong-scale", n["what"])
	assert.Contains(t, n["words"], "Nothing was taken")
	r.on("bench", sim.Spoon, 0, func(a *sim.Action) { a.Grams = 3 })
	time.Sleep(4 * time.Second)
	r.run("fine", "Copper carbonate", 3)
	r.until("now", func(v map[string]any) bool { return v["scale"] == "fine" && v["state"] == "in" })
	r.on("fine", sim.Lift, 0)
	r.on("fine", sim.Tip, 700*time.Millisecond)
	r.on("fine", sim.Put, 1400*time.Millisecond)
	p = r.until("portion", nil)
	assert.Equal(t, []any{"Copper carbonate", "fine"}, []any{p["material"], p["scale"]})
	r.until("finished", nil)
	require.NoError(t, r.cmd.Wait(), r.errs.String())

	got := runTared(t, "", "record", "--data", r.dir, "--json")
	var row struct{ Mark string }
	require.NoError(t, json.Unmarshal([]byte(got.out), &row))
	got = runTared(t, "", "record", row.Mark, "--data", r.dir, "--json")
	var made struct {
		Hash  string
		Lines []struct {
			Material  string
			Delivered struct{ G string }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &made))
	for _, l := range made.Lines {
		var m float64
		_, err := fmt.Sscan(l.Delivered.G, &m)
		require.NoError(t, err)
		assert.InDelta(t, r.world.Bucket(l.Material), m, 0.21, l.Material)
	}
	checkChain(t, r.dir, made.Hash)
}
