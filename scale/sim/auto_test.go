package sim

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// mark is one material of the test bench's batch.
type mark struct {
	material, scale string
	target, band    protocol.Mass
}

// testBench is the least that can guide a potter: it stands in for the real
// one, which lives in another package, and reads nothing but displays.
type testBench struct {
	marks         []mark
	step          int
	state         string
	base          map[string]protocol.Mass // shown with what is no content
	stands        map[string]bool
	before        protocol.Mass
	done          protocol.Mass // delivered of this mark
	at            time.Time
	prev          protocol.Mass
	flow          float64
	wantsReminder bool
}

func (b *testBench) hear(now time.Time, show func(string) Shown) Guidance {
	if b.wantsReminder {
		return Guidance{State: "reminder", Asked: "reminder", Answers: []Answer{{Word: "yes", Needs: "name"}}}
	}
	if b.step == len(b.marks) {
		return Guidance{State: "finished"}
	}
	m := b.marks[b.step]
	sh := show(m.scale)
	g := Guidance{Material: m.material, Scale: m.scale, Link: "up"}
	if !sh.Cable || sh.Silent || sh.Status != protocol.OK {
		b.state, g.State, g.Link, g.Cue = "", "lost", "lost", "lost"
		b.stands[m.scale] = false
		return g
	}
	shown, _ := sh.Value.Mass(sh.Unit)
	g.Step, _ = sh.Step.Mass(sh.Unit)
	if dt := now.Sub(b.at); dt >= 300*time.Millisecond {
		b.flow = float64(shown-b.prev) / float64(protocol.Gram) / dt.Seconds()
		b.prev, b.at = shown, now
	}
	low, high := m.target-m.band-b.done, m.target+m.band-b.done
	g.Target, g.Low, g.High = m.target-b.done, low, high
	base := b.base[m.scale]
	in := shown - base
	switch {
	case b.state == "lifted":
		g.State, g.Cue = "lifted", "taken"
		if sh.Stable && shown >= base/2 {
			b.done += b.before - shown
			b.base[m.scale], b.stands[m.scale], b.state = shown, true, "pour"
			if b.done >= m.target-m.band {
				b.step, b.done = b.step+1, 0
			}
		}
	case !b.stands[m.scale]:
		g.State = "container"
		if sh.Stable && shown >= 50*g.Step {
			b.base[m.scale], b.stands[m.scale], b.state = shown, true, "pour"
		}
	case shown < base/2:
		b.state, g.State = "lifted", "lifted"
	default:
		g.In, g.Known = in, true
		landing := in + protocol.Mass(b.flow*0.6*float64(protocol.Gram))
		switch {
		case sh.Stable && in > high:
			g.State, g.Cue = "over", "over"
			b.before = shown
		case sh.Stable && in >= low:
			g.State, g.Cue = "in", "in"
			b.before = shown
		case in >= low:
			g.State = "settle"
		default:
			g.State = "pour"
			if landing >= low {
				g.Cue = "stop"
			} else if landing >= low-m.target/5 {
				g.Cue = "ease"
			}
		}
	}
	return g
}

var testMarks = []mark{
	{"quartz", "bench", 180 * protocol.Gram, 1800 * protocol.Milligram},
	{"whiting", "bench", 127500 * protocol.Milligram, 1200 * protocol.Milligram},
	{"zinc oxide", "bench", 45 * protocol.Gram, 400 * protocol.Milligram},
	{"tin oxide", "bench", 30 * protocol.Gram, 600 * protocol.Milligram},
	{"copper carbonate", "fine", 9 * protocol.Gram, 180 * protocol.Milligram},
	{"cobalt oxide", "fine", 1500 * protocol.Milligram, 30 * protocol.Milligram},
}

func testWorld(t testing.TB, seed uint64) *World {
	t.Helper()
	w, err := NewWorld(seed, epoch, Place{"bench", Bench(), 140}, Place{"fine", Fine(), 22})
	require.NoError(t, err)
	return w
}

// mix lets a potter work with no clock and gives the log of what the hands did.
func mix(t testing.TB, seed uint64, p Potter, m Material, disturb func(now time.Time, w *World)) (w *World, log []string, took time.Duration) {
	t.Helper()
	w = testWorld(t, seed)
	b := &testBench{marks: testMarks, base: map[string]protocol.Mass{}, stands: map[string]bool{}, wantsReminder: true}
	a := NewAuto(AutoOptions{Seed: seed, Potter: p, By: "Mara", Material: func(string) Material { return m }})
	now := epoch
	var g Guidance
	for i := 0; !a.Done(); i++ {
		now = now.Add(20 * time.Millisecond)
		require.Less(t, now.Sub(epoch), time.Hour, "%s with %s does not come to an end: %+v, last %v", p.Name, m.Name, g, log[max(0, len(log)-12):])
		if disturb != nil {
			disturb(now, w)
		}
		if i%5 == 0 { // ten lines a second
			g = b.hear(now, func(s string) Shown { return w.Show(s, now) })
		}
		for _, x := range a.Step(now, g) {
			log = append(log, fmt.Sprintf("%s %s %s %.3f %.3f %s", now.Sub(epoch), x.Scale, x.Verb, x.Grams, x.Flow.Left, x.Word))
			if x.Verb == Say {
				require.Equal(t, "yes Mara", x.Word)
				b.wantsReminder = false
				continue
			}
			require.NoError(t, w.Do(x))
		}
	}
	return w, log, now.Sub(epoch)
}

func checkBatch(t testing.TB, w *World, m Material, what string) {
	t.Helper()
	for _, x := range testMarks {
		step := 0.1
		if x.scale == "fine" {
			step = 0.01
		}
		// The record is a difference of two readings, each good to about a step; and
		// what clung after the last material comes along with this one.
		clung := 2 * min(1.5*m.Cling, mostCling*gramsOf(x.target)*2)
		assert.InDelta(t, gramsOf(x.target), w.Bucket(x.material), gramsOf(x.band)+2*step+clung, "%s: %s", what, x.material)
	}
}

func TestAutoMixesABatch(t *testing.T) {
	i := 0
	for _, p := range Potters() {
		for _, m := range Materials() {
			w, _, took := mix(t, uint64(i), p, m, nil)
			checkBatch(t, w, m, p.Name+", "+m.Name)
			assert.Less(t, took, 30*time.Minute, "%s, %s", p.Name, m.Name)
			i++
		}
	}
}

func TestAutoIsDeterministic(t *testing.T) {
	_, a, _ := mix(t, 5, Distracted(), Sticky(), nil)
	_, b, _ := mix(t, 5, Distracted(), Sticky(), nil)
	assert.Equal(t, a, b)
	_, c, _ := mix(t, 6, Distracted(), Sticky(), nil)
	assert.NotEqual(t, a, c)
}

func TestAutoPutsTheCableBack(t *testing.T) {
	pulled := false
	w, log, _ := mix(t, 2, Steady(), Free(), func(now time.Time, w *World) {
		if !pulled && now.Sub(epoch) > 40*time.Second {
			pulled = true
			require.NoError(t, w.Do(Action{At: now, Scale: "bench", Verb: Unplug}))
		}
	})
	require.True(t, pulled)
	mended := false
	for _, l := range log {
		mended = mended || strings.Contains(l, string(Mend))
	}
	assert.True(t, mended)
	assert.True(t, w.Show("bench", epoch.Add(time.Hour)).Cable)
}

func TestAutoReactsLateAndNeverAtOnce(t *testing.T) {
	p := Steady()
	a := NewAuto(AutoOptions{Seed: 1, Potter: p})
	now := epoch
	pour := Guidance{State: "pour", Scale: "bench", Material: "quartz", Target: 100 * protocol.Gram, Low: 99 * protocol.Gram,
		High: 101 * protocol.Gram, Step: 100 * protocol.Milligram, Known: true, Link: "up"}
	running := false
	for !running {
		now = now.Add(10 * time.Millisecond)
		require.Less(t, now.Sub(epoch), 10*time.Second)
		for _, x := range a.Step(now, pour) {
			running = running || x.Verb == Pour
		}
	}
	told := now
	pour.Cue = "stop"
	for {
		now = now.Add(10 * time.Millisecond)
		require.Less(t, now.Sub(told), 2*time.Second, "the hand does not stop")
		acts := a.Step(now, pour)
		if len(acts) > 0 {
			require.Equal(t, Stop, acts[0].Verb)
			break
		}
	}
	late := now.Sub(told).Seconds()
	assert.GreaterOrEqual(t, late, 0.1)
	assert.InDelta(t, p.Reaction, late, 4*p.Spread+0.02)
}

func TestAutoPrefersTheAnswerItWasGiven(t *testing.T) {
	for prefer, want := range map[string]string{"": "enlarge", "keep": "keep"} {
		a := NewAuto(AutoOptions{Seed: 1, Potter: Steady(), Prefer: map[string]string{"overpour": prefer}})
		g := Guidance{State: "decide", Scale: "bench", Asked: "overpour",
			Answers: []Answer{{"typed", "mass"}, {"enlarge", ""}, {"keep", ""}}}
		var said []string
		for now := epoch; now.Before(epoch.Add(6 * time.Second)); now = now.Add(20 * time.Millisecond) {
			for _, x := range a.Step(now, g) {
				require.Equal(t, Say, x.Verb)
				said = append(said, x.Word)
			}
		}
		assert.Equal(t, []string{want}, said)
	}
}

func TestAutoSaysWhatBecameOfThePowder(t *testing.T) {
	for _, tipped := range []bool{true, false} {
		a := NewAuto(AutoOptions{Seed: 1, Potter: Steady(), Truth: func(asked string, filled, tipped bool) []string {
			assert.Equal(t, "gone", asked)
			assert.False(t, filled)
			return []string{"not offered", pick(tipped, "keep", "again")}
		}})
		now := epoch
		a.did(now, Action{Scale: "bench", Verb: Put})
		a.did(now, Action{Scale: "bench", Verb: Lift})
		if tipped {
			a.did(now, Action{Scale: "bench", Verb: Tip})
		}
		a.did(now, Action{Scale: "bench", Verb: Put})
		g := Guidance{State: "decide", Scale: "bench", Asked: "gone", Answers: []Answer{{"other", ""}, {"keep", ""}, {"typed", "mass"}, {"again", ""}}}
		said := ""
		for ; said == "" && now.Before(epoch.Add(6*time.Second)); now = now.Add(20 * time.Millisecond) {
			for _, x := range a.Step(now, g) {
				said = x.Word
			}
		}
		assert.Equal(t, pick(tipped, "keep", "again"), said)
	}
}

func TestAutoLooksAtASilentScale(t *testing.T) {
	a := NewAuto(AutoOptions{Seed: 1, Potter: Steady()})
	g := Guidance{State: "container", Scale: "fine", Link: "waiting"}
	var did []Verb
	for now := epoch; now.Before(epoch.Add(20 * time.Second)); now = now.Add(20 * time.Millisecond) {
		for _, x := range a.Step(now, g) {
			did = append(did, x.Verb)
		}
	}
	assert.Equal(t, []Verb{Put, Mend}, did[:2])
}
