package guide

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}

var wanted = Aim{Target: g("85"), Low: g("84.2"), High: g("85.8")}

// pour is one of 10 g a second on a scale of tenths with a usual filter.
func pour(in string) Pour {
	return Pour{Scale: "bench", Base: g("60"), In: g(in), Flow: g("10"), Step: g("0.1"), Lag: 250 * time.Millisecond, Every: 100 * time.Millisecond}
}

// 0.25 s of lag, 0.17 s in the air and 0.25 s of reaction are 6.7 g at 10 g a second;
// the target less 0.7 g is the mark where three times a sway of 50 ms is feared.
func TestCue(t *testing.T) {
	for _, c := range []struct {
		name string
		w    func(w *Pour)
		in   string
		want Cue
	}{
		{"far away", nil, "40", ""},
		{"soon", nil, "70", Ease},
		{"just before", nil, "77.5", Ease},
		{"now", nil, "77.7", StopNow},
		{"in the band, and on to the middle", func(w *Pour) { w.Flow = g("0.2") }, "84.3", Near},
		{"the middle of the band", func(w *Pour) { w.Flow = g("0.2") }, "84.9", StopNow},
		{"near, and nothing comes", func(w *Pour) { w.Flow = 0 }, "77", Near},
		{"near, and it is taken out", func(w *Pour) { w.Flow = -g("3") }, "84.5", Near},
		{"a slow filter stops sooner", func(w *Pour) { w.Lag = 1200 * time.Millisecond }, "68.2", StopNow},
		{"and not before", func(w *Pour) { w.Lag = 1200 * time.Millisecond }, "68.0", Ease},
		{"a lump that may fall stops sooner", func(w *Pour) { w.Lump = g("1.5") }, "76.3", StopNow},
		{"though not far under the low mark", func(w *Pour) { w.Lump = g("40") }, "75.8", Ease},
		{"a scale that speaks twice a second: at the line", func(w *Pour) { w.Every = 500 * time.Millisecond }, "75", Ease},
		{"and a while after it", func(w *Pour) { w.Every, w.Since = 500*time.Millisecond, 300*time.Millisecond }, "75", StopNow},
		{"but not for ever", func(w *Pour) { w.Every, w.Since = 500*time.Millisecond, time.Hour }, "71", Ease},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := pour(c.in)
			if c.w != nil {
				c.w(&w)
			}
			assert.Equal(t, c.want, Person{}.Cue(wanted, w))
		})
	}
	assert.Equal(t, 625*time.Millisecond, Pour{Every: 500 * time.Millisecond, Since: time.Hour}.unseen())
	assert.Equal(t, Ease, Person{Reaction: 150 * time.Millisecond}.Cue(wanted, pour("77.7")), "a quick hand may wait")
	assert.Equal(t, StopNow, Person{Sway: 200 * time.Millisecond}.Cue(wanted, pour("76.0")), "an unsteady one may not")
}

// stopped has a pour told to stop, and come to rest where it ran on for so long.
func stopped(l Learnt, name string, after time.Duration) Learnt {
	w := pour("78")
	l, s := l.Watch(Stop{}, name, StopNow, w, false)
	w.In += Brings(w.Flow, after)
	l, s = l.Watch(s, name, "", w, false)
	l, _ = l.Watch(s, name, "", w, true)
	return l
}

func TestLearnt(t *testing.T) {
	late := 250*time.Millisecond + InTheAir + 450*time.Millisecond // lag, fall, and a hand 0.2 s slower than most
	l := stopped(Learnt{}, "Mara", late)
	require.Equal(t, Person{300 * time.Millisecond, 87500 * time.Microsecond}, l.Of("Mara"), "a quarter of what is new")
	for range 40 {
		l = stopped(l, "Mara", late)
	}
	assert.InDelta(t, 450, l.Of("Mara").Reaction.Milliseconds(), 5)
	assert.Less(t, l.Of("Mara").Sway, 10*time.Millisecond, "always as slow")
	assert.Equal(t, Person{}, l.Of("Ilse"), "what is learnt of one is not of another")

	assert.Equal(t, l, stopped(l, "Mara", 3*time.Second), "who goes on for so long does not react")
	assert.Equal(t, l, stopped(l, "Mara", 0), "and nobody does before the word")
	for range 60 {
		l = stopped(l, "Ilse", 430*time.Millisecond)
	}
	assert.Equal(t, quickest, l.Of("Ilse").Reaction)
	require.Equal(t, []string{"Ilse", "Mara"}, l.Names())

	less, known := l.Without("Ilse")
	require.True(t, known)
	assert.Equal(t, []string{"Mara"}, less.Names())
	assert.Len(t, l.Names(), 2, "a value stays what it was")
	_, known = l.Without("Ida")
	assert.False(t, known)
}

// A stop of one pour says nothing of the next.
func TestStopBelongsToItsPour(t *testing.T) {
	_, s := Learnt{}.Watch(Stop{}, "Mara", StopNow, pour("78"), false)
	next := pour("84")
	next.Base = g("62")
	l, s := Learnt{}.Watch(s, "Mara", "", next, true)
	assert.Empty(t, l.Names())
	assert.Equal(t, Stop{}, s)
}

// So slow a pour does not tell how quick a hand is.
func TestSlowPourTeachesNothing(t *testing.T) {
	w := pour("84.3")
	w.Flow = g("0.4")
	l, s := Learnt{}.Watch(Stop{}, "Mara", StopNow, w, false)
	w.In = g("84.5")
	l, s = l.Watch(s, "Mara", "", w, true)
	assert.Empty(t, l.Names())
	assert.Equal(t, Stop{}, s)
}

func ExamplePerson_Cue() {
	aim := Aim{Target: g("85"), Low: g("84.2"), High: g("85.8")}
	for _, in := range []string{"40", "72", "78"} {
		w := Pour{In: g(in), Flow: g("10"), Step: g("0.1"), Lag: 250 * time.Millisecond, Every: 100 * time.Millisecond}
		fmt.Printf("%s g: %q\n", in, Person{}.Cue(aim, w))
	}
	// Output:
	// 40 g: ""
	// 72 g: "ease"
	// 78 g: "stop"
}

func ExampleLearnt_Watch() {
	w := Pour{Scale: "bench", Base: g("60"), In: g("78"), Flow: g("10"), Step: g("0.1"), Lag: 250 * time.Millisecond}
	learnt, stop := Learnt{}.Watch(Stop{}, "Mara", StopNow, w, false)
	w.In = g("86") // so far it ran on
	learnt, _ = learnt.Watch(stop, "Mara", "", w, true)
	fmt.Println(learnt.Names(), learnt.Of("Mara").Reaction)
	// Output: [Mara] 282.5ms
}
