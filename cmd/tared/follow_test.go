//go:build unix

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale/sim"
	"tared/session"
)

// twoScales is a bench with a second scale, in a quiet room, and the world that its
// hands work in.
type twoScales struct {
	*benchPage
	clock sim.Clock
	world *sim.World
}

func onTwoScales(t *testing.T) *twoScales {
	t.Helper()
	b := &twoScales{}
	var err error
	b.clock, err = sim.NewClock(1)
	require.NoError(t, err)
	places := []sim.Place{{Name: "bench", Model: sim.Bench(), Container: 118.4}, {Name: "fine", Model: sim.Fine(), Container: 21.37}}
	for i := range places {
		m := &places[i].Model
		m.Noise, m.Draught, m.Lag = 0, 0, 100*time.Millisecond
	}
	b.world, err = sim.NewWorld(7, b.clock.Now(), places...)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	var lines sync.WaitGroup
	t.Cleanup(func() { cancel(); lines.Wait() })
	var specs []string
	for i, more := range []string{"format=header-comma-mode,step=0.1g,max=2000g", "format=letter-status,step=0.01g,max=300g"} {
		name := places[i].Name
		src, err := b.world.Scale(name)
		require.NoError(t, err)
		format, _, _ := strings.Cut(strings.TrimPrefix(more, "format="), ",")
		l, err := sim.NewLine(src, sim.LineOptions{Format: format, Clock: b.clock, Link: filepath.Join(t.TempDir(), "tty")})
		require.NoError(t, err)
		lines.Go(func() { _ = l.Run(ctx) })
		specs = append(specs, "name="+name+",port="+l.Path()+",baud=9600,"+more)
	}
	b.benchPage = watch(t, t.TempDir(), specs...)
	return b
}

func (b *twoScales) hand(scale string, verb sim.Verb, more ...func(*sim.Action)) {
	b.t.Helper()
	a := sim.Action{Scale: scale, Verb: verb, At: b.clock.Now()}
	for _, m := range more {
		m(&a)
	}
	require.NoError(b.t, b.world.Do(a))
}

// stands is a condition for until: that the bench knows a container at rest on a
// scale, which shows so much.
func stands(scale, shows string) func(session.View) bool {
	return func(v session.View) bool {
		return slices.ContainsFunc(v.Scales, func(c session.ScaleView) bool {
			return c.Name == scale && c.On == "container" && c.Settled && c.Shows == shows
		})
	}
}

// put puts the container of a scale on it, and waits until the bench has seen it.
func (b *twoScales) put(scale, shows string) {
	b.t.Helper()
	b.hand(scale, sim.Put)
	b.until("the container on the "+scale+" scale at rest", stands(scale, shows))
}

func (b *twoScales) pour(scale, material string, grams float64) {
	b.t.Helper()
	b.hand(scale, sim.Pour, func(a *sim.Action) {
		a.Flow = sim.Flow{Material: material, Rate: grams / 5, Rise: 0.1, Cut: 0.05, Left: grams}
	})
}

// tip empties the container of a scale into the bucket when the bench says that the
// right amount is in and knows it, puts it back, and gives what was recorded. Lifted
// too early, where a busy machine read lines late, it is put back first.
func (b *twoScales) tip(scale, material string) told {
	b.t.Helper()
	is := func(state string) func(session.View) bool {
		return func(v session.View) bool {
			return v.Now.State == state && v.Now.Scale == scale && v.Now.Material == material
		}
	}
	before := len(b.facts("portion"))
	b.until(material+" in the band", is("in"))
	b.hand(scale, sim.Lift)
	for b.until(material+" lifted", is("lifted")).Now.Lifted == "" {
		b.hand(scale, sim.Put)
		b.until(material+" back in the band", is("in"))
		b.hand(scale, sim.Lift)
	}
	b.hand(scale, sim.Tip)
	b.hand(scale, sim.Put)
	b.until(material+" taken", func(session.View) bool { return len(b.facts("portion")) > before })
	return b.fact("portion")
}

// told is what these tests look at in a line of the journal.
type told struct{ Material, Scale, Verdict, From, To, What, Other string }

// fact gives the last line of a kind.
func (b *twoScales) fact(kind string) (f told) {
	b.t.Helper()
	all := b.facts(kind)
	require.NotEmpty(b.t, all, kind)
	require.NoError(b.t, json.Unmarshal([]byte(all[len(all)-1]), &f))
	return f
}

// The potter uses the other scale: a good one is followed, one that is not good
// takes nothing, and where two materials can be meant the program asks.
func TestWeighOnTheOtherScale(t *testing.T) {
	t.Parallel() // it takes the time that a pan takes to settle
	b := onTwoScales(t)
	turn := func(material, scale string) func(session.View) bool {
		return func(v session.View) bool {
			return v.Now.Material == material && v.Now.Scale == scale
		}
	}
	send(t, b.url+"api/start", `{"recipe":"# Grotto, invented for tests\nQuartz 60\nWhiting 40\n+ Copper carbonate 3\n","base":"100g","by":"Ilse"}`)
	b.do("yes", "Ilse")
	b.until("Quartz on the bench scale", func(v session.View) bool { return turn("Quartz", "bench")(v) && v.Now.State == "container" })

	// Quartz on the fine scale, which waits for the copper too.
	b.put("fine", "21.37")
	b.pour("fine", "Quartz", 60)
	v := b.until("a question", func(v session.View) bool { return v.Asked != nil })
	require.Equal(t, "which", v.Asked.Question)
	var answers []string
	for _, a := range v.Asked.Answers {
		answers = append(answers, a.Word)
	}
	assert.Equal(t, []string{"keep", "next", "again", "typed", "not-known"}, answers)
	b.do("keep", "")
	p := b.tip("fine", "Quartz")
	assert.Equal(t, []string{"Quartz", "fine", "in"}, []string{p.Material, p.Scale, p.Verdict})
	moved := b.fact("moved")
	assert.Equal(t, []string{"Quartz", "bench", "fine"}, []string{moved.Material, moved.From, moved.To})

	// Whiting where it belongs.
	b.until("Whiting on the bench scale", turn("Whiting", "bench"))
	b.put("bench", "118.4")
	b.pour("bench", "Whiting", 40)
	b.tip("bench", "Whiting")

	// Copper on the bench scale, which is blind for it: nothing is taken.
	b.until("copper on the fine scale", turn("Copper carbonate", "fine"))
	b.pour("bench", "Copper carbonate", 3)
	b.until("a notice", func(session.View) bool { return strings.Contains(strings.Join(b.facts("noticed"), ""), "wrong-scale") })
	n := b.fact("noticed")
	assert.Equal(t, "wrong-scale", n.What)
	assert.Equal(t, "Copper carbonate", n.Material)
	assert.Equal(t, "fine", n.Other, "where it belongs")
	assert.Len(t, b.facts("portion"), 2, "nothing was taken")
	b.hand("bench", sim.Spoon, func(a *sim.Action) { a.Grams = 3 })
	b.until("the container on the bench scale, empty", stands("bench", "118.4"))
	assert.Len(t, b.facts("portion"), 2, "nothing was taken")
	b.pour("fine", "Copper carbonate", 3)
	p = b.tip("fine", "Copper carbonate")
	assert.Equal(t, []string{"Copper carbonate", "fine"}, []string{p.Material, p.Scale})
	b.until("the end", func(v session.View) bool { return v.Now.State == "finished" })
	assert.Equal(t, exitDone, b.end(t))

	got := runTared(t, "", "record", "--data", b.dir, "--json")
	var row struct{ Mark string }
	require.NoError(t, json.Unmarshal([]byte(got.out), &row))
	got = runTared(t, "", "record", row.Mark, "--data", b.dir, "--json")
	var made struct {
		Hash  string
		Lines []struct {
			Material  string
			Delivered struct{ G string }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &made))
	require.Len(t, made.Lines, 3)
	for _, l := range made.Lines {
		var m float64
		_, err := fmt.Sscan(l.Delivered.G, &m)
		require.NoError(t, err)
		assert.InDelta(t, b.world.Bucket(l.Material), m, 0.21, l.Material)
	}
	checkChain(t, b.dir, made.Hash)
}
