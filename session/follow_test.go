package session

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
)

// flow lets powder run onto a pan at ten lines a second, and lets it rest.
func (r *rig) flow(on, to string, lines int) {
	r.t.Helper()
	step := g("0.1")
	if on == "fine" {
		step = g("0.01")
	}
	from, want := r.shown[on], g(to)
	for i := 1; i <= lines; i++ {
		m := from + (want-from)/protocol.Mass(lines)*protocol.Mass(i)
		r.shown[on] = m / step * step
		r.say(on, protocol.No)
	}
	r.shown[on] = want
	r.rest(on, 1500*time.Millisecond)
}

// begin is a rig at work, with nothing on its scales.
func begin(t *testing.T, lines ...fact.Line) *rig {
	r := newRig(t, lines...)
	r.must("yes Mara")
	r.rest("bench", time.Second)
	r.rest("fine", 1500*time.Millisecond)
	return r
}

// Every weight is invented. The bench scale shows tenths and holds 2 kg, the fine
// one hundredths and 200 g.
func TestAnotherScale(t *testing.T) {
	copper := line("Copper carbonate", "strong", "2.50", "0.05", "fine")
	moved := func(r *rig) (all []fact.Moved) {
		for _, f := range r.facts {
			if m, ok := f.Body.(fact.Moved); ok {
				all = append(all, m)
			}
		}
		return all
	}

	t.Run("a good one is followed", func(t *testing.T) {
		r := begin(t, quartz, line("Whiting", "base", "40.0", "0.4", "bench"))
		r.set("fine", "20.00")
		require.Equal(t, "container", r.state())
		require.Contains(t, spoken(r.s.View().Now.Detail), "pour there, and the page follows")
		r.flow("fine", "60.00", 50)
		require.Len(t, moved(r), 1)
		m := moved(r)[0]
		assert.Equal(t, []string{"Quartz", "bench", "fine"}, []string{m.Material, m.From, m.To})
		assert.Equal(t, "good", m.Line.Weighable)
		v := r.s.View()
		assert.Equal(t, []string{"pour", "fine", "40.00"}, []string{v.Now.State, v.Now.Scale, v.Now.In})
		r.restart()
		r.rest("fine", 2*time.Second)
		require.Equal(t, "tare", r.s.View().Asked.Question, "as after every gap with powder in the container")
		r.must("keep")
		assert.Equal(t, "40.00", r.s.View().Now.In, "a restart finds it where it went")
		r.flow("fine", "104.60", 50)
		require.Equal(t, "in", r.state())
		r.set("fine", "0")
		r.set("fine", "20.05")
		p := r.lastPortion()
		assert.Equal(t, []string{"Quartz", "fine", "84.55"}, []string{p.Material, p.Scale, p.Delivered.Grams(2)})
		v = r.s.View()
		assert.Equal(t, []string{"Whiting", "bench", "container"}, []string{v.Now.Material, v.Now.Scale, v.Now.State}, "the next one is where the sheet wants it")
		r.restart()
	})
	t.Run("followed in mid-pour, so that the cues are of the right scale", func(t *testing.T) {
		r := begin(t, quartz)
		r.set("fine", "20.00")
		for i := 1; i <= 60; i++ {
			r.shown["fine"] = g("20") + g("1")*protocol.Mass(i)
			r.say("fine", protocol.No)
			if len(moved(r)) > 0 {
				break
			}
		}
		require.Len(t, moved(r), 1)
		assert.Less(t, r.s.pan("fine").Content(), g("40"))
		assert.Equal(t, "fine", r.s.View().Now.Scale)
	})
	t.Run("powder whose lines were read late is asked about when it rests", func(t *testing.T) {
		r := begin(t, quartz)
		r.set("fine", "20.00")
		r.late = true
		r.flow("fine", "60.00", 50)
		require.Empty(t, moved(r), "how it came is not known, so nothing is taken without a word")
		require.NotNil(t, r.s.View().Asked)
		require.Equal(t, "which", r.s.View().Asked.Question)
		r.must("keep")
		require.Len(t, moved(r), 1)
		assert.Equal(t, []string{"fine", "40.00"}, []string{r.s.View().Now.Scale, r.s.View().Now.In})
	})
	t.Run("and back again", func(t *testing.T) {
		r := begin(t, quartz)
		r.set("fine", "20.00")
		r.flow("fine", "40.00", 50)
		r.flow("fine", "20.00", 50) // taken out again
		r.set("bench", "100.0")
		r.flow("bench", "150.0", 50)
		require.Len(t, moved(r), 2)
		assert.Equal(t, "bench", r.s.View().Now.Scale)
		r.set("bench", "184.5")
		r.set("bench", "0")
		r.set("bench", "100.0")
		assert.Equal(t, g("84.5"), r.lastPortion().Delivered)
	})
	t.Run("one that is not good says so and takes nothing", func(t *testing.T) {
		r := begin(t, copper)
		r.set("bench", "100.0")
		require.Contains(t, spoken(r.s.View().Now.Detail), "is not accurate enough")
		r.flow("bench", "102.5", 50)
		require.Empty(t, moved(r))
		v := r.s.View()
		assert.Equal(t, "Not on the bench scale", spoken(v.Now.Headline))
		assert.Contains(t, spoken(v.Now.Detail), "±0.13 g; the limit is ±0.05 g")
		n := r.last().(fact.Noticed)
		assert.Equal(t, "wrong-scale", n.What)
		r.rest("bench", 3*time.Second)
		assert.Equal(t, n, r.last(), "once")
		r.set("bench", "0")
		require.Empty(t, r.portions())
		require.Equal(t, "strayed", r.s.View().Asked.Question)
		assert.Contains(t, fmt.Sprint(r.s.View().Asked.Lines), "±0.13 g; the limit is ±0.05 g")
		r.set("bench", "100.0")
		r.must("again")
		require.Empty(t, r.portions())
		assert.Equal(t, "container", r.state())
	})
	t.Run("and says so when it rests, where lines were read late", func(t *testing.T) {
		r := begin(t, copper)
		r.set("bench", "100.0")
		r.late = true
		r.flow("bench", "102.5", 50)
		n := r.last().(fact.Noticed)
		assert.Equal(t, []any{"wrong-scale", g("2.5")}, []any{n.What, n.Amount})
		require.Empty(t, r.portions())
	})
	t.Run("tipped from there all the same, and said so", func(t *testing.T) {
		r := begin(t, copper, quartz)
		r.set("bench", "100.0")
		r.flow("bench", "102.5", 50)
		require.Equal(t, "which", r.s.View().Asked.Question, "it might be the quartz")
		r.set("bench", "0")
		require.Equal(t, "strayed", r.s.View().Asked.Question)
		assert.Contains(t, r.s.View().Asked.Says.String(), "2.5 g")
		r.set("bench", "100.1")
		assert.Contains(t, r.s.View().Asked.Says.String(), "2.4 g", "less what clings")
		r.must("keep")
		p := r.portions()[0]
		assert.Equal(t, []string{"Copper carbonate", "bench", "2.4", "tipped"}, []string{p.Material, p.Scale, p.Delivered.Grams(1), p.How})
		assert.Equal(t, netU(g("0.1"), 0), p.U)
		assert.Contains(t, p.Remarks, "not-accurate")
		r.restart()
	})
	t.Run("two can be meant: it asks", func(t *testing.T) {
		for word, want := range map[string]string{"keep": "Quartz", "next": "Copper carbonate"} {
			r := begin(t, quartz, copper)
			r.set("fine", "20.00")
			require.Contains(t, spoken(r.s.View().Now.Detail), "waits for Copper carbonate")
			r.flow("fine", "22.50", 50)
			require.Equal(t, "which", r.s.View().Asked.Question)
			r.must(word)
			v := r.s.View()
			assert.Equal(t, []string{want, "fine", "2.50"}, []string{v.Now.Material, v.Now.Scale, v.Now.In})
			if word == "next" {
				require.Equal(t, "in", r.state())
				r.set("fine", "0")
				r.set("fine", "20.00")
				assert.Equal(t, "Copper carbonate", r.lastPortion().Material)
				assert.Equal(t, "Quartz", r.s.View().Now.Material)
			}
			r.restart()
		}
		r := begin(t, quartz, copper)
		r.set("fine", "20.00")
		r.flow("fine", "22.50", 50)
		r.flow("fine", "20.00", 50)
		assert.Nil(t, r.s.View().Asked, "taken out again")
	})
	t.Run("lifted with the question open", func(t *testing.T) {
		r := begin(t, quartz, copper)
		r.set("fine", "20.00")
		r.flow("fine", "22.50", 50)
		r.set("fine", "0")
		require.Equal(t, "strayed", r.s.View().Asked.Question)
		r.must("next")
		p := r.lastPortion()
		assert.Equal(t, []string{"Copper carbonate", "2.50", "not-returned"}, []string{p.Material, p.Delivered.Grams(2), p.How})
		assert.Equal(t, "Quartz", r.s.View().Now.Material)
		r.restart()
	})
	t.Run("powder of the scale in turn keeps its own", func(t *testing.T) {
		r := begin(t, quartz, copper)
		r.set("bench", "100.0")
		r.set("fine", "20.00")
		r.flow("bench", "150.0", 50)
		r.flow("fine", "22.50", 50) // two hands
		require.Equal(t, "which", r.s.View().Asked.Question)
		r.must("next")
		r.set("fine", "0")
		r.set("fine", "20.00")
		assert.Equal(t, g("2.50"), r.lastPortion().Delivered)
		r.rest("bench", time.Second)
		v := r.s.View()
		assert.Equal(t, []string{"Quartz", "50.0"}, []string{v.Now.Material, v.Now.In}, "what was poured before still counts")
	})
	t.Run("a spoon is laid on it", func(t *testing.T) {
		r := begin(t, quartz)
		r.set("bench", "100.0")
		r.set("fine", "20.00")
		r.set("fine", "38.00")
		r.rest("fine", 3*time.Second)
		require.Empty(t, moved(r))
		assert.Nil(t, r.s.View().Asked)
		r.set("fine", "30.00") // two of them, and one is taken away
		r.set("fine", "20.00")
		r.flow("bench", "184.6", 50)
		assert.Equal(t, "in", r.state())
		assert.Empty(t, moved(r))
	})
	t.Run("what was left out stays out", func(t *testing.T) {
		r := begin(t, quartz, copper)
		r.set("bench", "100.0")
		r.flow("bench", "140.0", 50)
		r.must("skip yes")
		r.rest("bench", 2*time.Second)
		require.Empty(t, moved(r))
		require.Nil(t, r.s.View().Asked)
		r.set("bench", "0")
		require.Nil(t, r.s.View().Asked, "it was there before its turn")

		r = begin(t, quartz, line("Whiting", "base", "40.0", "0.4", "bench"))
		r.set("bench", "100.0")
		r.flow("bench", "140.0", 50)
		r.must("skip yes")
		r.rest("bench", time.Second)
		require.Equal(t, "early", r.s.View().Asked.Question, "40 g of quartz are not the whiting")
		r.must("again")
		assert.Equal(t, "0.0", r.s.View().Now.In)
	})
	t.Run("a scale read by eye", func(t *testing.T) {
		r := begin(t, line("Copper carbonate", "strong", "2.50", "0.05", "eye"))
		r.set("fine", "20.00")
		r.flow("fine", "22.50", 50)
		require.Len(t, moved(r), 1)
		assert.Equal(t, "in", r.state())
	})
	t.Run("poured before it was at rest, and tipped", func(t *testing.T) {
		r := begin(t, quartz)
		r.shown["fine"] = g("20.00")
		r.say("fine", protocol.No)
		for i := range 50 {
			r.shown["fine"] = g("20") + g("1.69")*protocol.Mass(i+1)
			r.say("fine", protocol.No)
		}
		r.shown["fine"] = g("104.60")
		r.rest("fine", 1500*time.Millisecond)
		require.Empty(t, moved(r))
		assert.Contains(t, spoken(r.s.View().Now.Detail), "poured on the fine scale before it settled")
		r.set("fine", "0")
		r.set("fine", "20.05")
		require.Equal(t, "strayed", r.s.View().Asked.Question)
		r.must("keep")
		assert.Equal(t, g("84.55"), r.lastPortion().Delivered)
		assert.Equal(t, "finished", r.state())
	})
	t.Run("too little room", func(t *testing.T) {
		r := begin(t, line("Quartz", "base", "190.0", "1.9", "bench"))
		r.set("fine", "20.00")
		r.flow("fine", "60.00", 50)
		require.Empty(t, moved(r))
		assert.Contains(t, spoken(r.s.View().Now.Detail), "can take only 180")
	})
}
