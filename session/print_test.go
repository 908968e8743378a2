package session

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
)

// press presses the print key of a print-key scale some seconds after the last
// time, with so much on its pan.
func (r *rig) press(on, grams string, stable protocol.Claim) {
	r.t.Helper()
	r.now = r.now.Add(7 * time.Second)
	m, step := g(grams), r.step
	d, err := protocol.ParseDecimal(m.Grams(step.Places()))
	require.NoError(r.t, err)
	set := r.sets[on]
	if set == nil {
		set = &scale.Settler{Print: true}
		r.sets[on] = set
	}
	u := scale.Update{Scale: on, At: r.now, Link: scale.Up, Print: true, HasReading: true, HasMass: true, Mass: m, Step: step,
		Reading: protocol.Reading{Status: protocol.OK, Value: d, Unit: protocol.UnitGram, Stable: stable, Raw: []byte(fmt.Sprintf("%s %s g", on, d))}}
	u.Settled = set.Add(r.now, m, step, stable)
	require.NoError(r.t, r.input(Input{At: r.now, Update: &u}))
	r.tick(3 * time.Second) // and the number still stands
}

func TestPrintKey(t *testing.T) {
	start := func(t *testing.T) *rig {
		r := newRig(t, line("Quartz", "base", "41", "0.4", "bench"), line("Whiting", "base", "12", "0.2", "bench"))
		r.must("yes Mara")
		return r
	}
	delivered := func(r *rig) (out []string) {
		for _, p := range r.portions() {
			out = append(out, p.Material+" "+p.Delivered.Grams(1)+" "+p.Verdict+" "+p.How)
		}
		return out
	}
	t.Run("container, filled, returned", func(t *testing.T) {
		r := start(t)
		r.press("bench", "120.0", protocol.Unsaid)
		assert.Equal(t, "pour", r.state())
		r.press("bench", "150.0", protocol.Unsaid)
		assert.Equal(t, "pour", r.state())
		r.press("bench", "161.1", protocol.Unsaid)
		assert.Equal(t, "in", r.state())
		r.tick(5 * time.Minute)
		v := r.s.View()
		assert.Equal(t, "in", r.state(), "silence is this scale's nature")
		assert.Equal(t, "41.1", v.Now.In)
		assert.Equal(t, "161.1", v.Scales[0].Shows)
		assert.True(t, v.Scales[0].Print)
		assert.Contains(t, spoken(v.Now.Detail), "print key")
		r.press("bench", "120.2", protocol.Unsaid)
		assert.Equal(t, []string{"Quartz 40.9 in tipped"}, delivered(r))
		assert.Equal(t, "Whiting", r.s.View().Now.Material)
		r.press("bench", "132.3", protocol.Unsaid)
		r.press("bench", "120.2", protocol.Unsaid)
		assert.Equal(t, "finished", r.state())
		assert.Equal(t, []string{"Quartz 40.9 in tipped", "Whiting 12.1 in tipped"}, delivered(r))
		r.restart()
	})
	t.Run("with the empty pan printed, too", func(t *testing.T) {
		r := start(t)
		r.press("bench", "0.0", protocol.Unsaid)
		r.press("bench", "120.0", protocol.Unsaid)
		r.press("bench", "161.0", protocol.Unsaid)
		r.press("bench", "0.1", protocol.Unsaid)
		assert.Equal(t, "lifted", r.state())
		r.tick(10 * time.Minute)
		assert.Equal(t, "lifted", r.state(), "nobody can know whether it is back")
		r.press("bench", "120.1", protocol.Unsaid)
		assert.Equal(t, []string{"Quartz 41.0 in tipped"}, delivered(r), "with the zero that moved")
	})
	t.Run("spooned out", func(t *testing.T) {
		r := start(t)
		r.press("bench", "120.0", protocol.Unsaid)
		r.press("bench", "165.0", protocol.Unsaid)
		assert.Equal(t, "over", r.state())
		r.press("bench", "161.0", protocol.Unsaid)
		assert.Equal(t, "in", r.state())
		assert.Empty(t, r.portions())
	})
	t.Run("much is still in it", func(t *testing.T) {
		for answer, want := range map[string][]string{"keep": {"Quartz 31.0 under unsettled"}, "again": nil} {
			r := start(t)
			r.press("bench", "120.0", protocol.Unsaid)
			r.press("bench", "161.0", protocol.Unsaid)
			r.press("bench", "130.0", protocol.Unsaid)
			assert.Equal(t, "decide", r.state())
			r.must(answer)
			assert.Equal(t, want, delivered(r))
		}
	})
	t.Run("printed while it moved", func(t *testing.T) {
		r := start(t)
		r.press("bench", "120.0", protocol.Yes)
		r.press("bench", "161.0", protocol.No)
		assert.Equal(t, "settle", r.state())
		assert.Contains(t, spoken(r.s.View().Now.Headline), "again")
		r.press("bench", "161.0", protocol.Yes)
		assert.Equal(t, "in", r.state())
	})
	t.Run("the cable fell out", func(t *testing.T) {
		r := start(t)
		r.press("bench", "120.0", protocol.Unsaid)
		r.press("bench", "161.0", protocol.Unsaid)
		r.lose("bench")
		assert.Equal(t, "lost", r.state())
		r.press("bench", "161.0", protocol.Unsaid)
		assert.Equal(t, "in", r.state(), "it shows what it showed before")
		r.press("bench", "120.0", protocol.Unsaid)
		assert.Equal(t, []string{"Quartz 41.0 in tipped"}, delivered(r))
		kinds := map[string]bool{}
		for _, f := range r.facts {
			kinds[f.Body.Kind()] = true
		}
		assert.True(t, kinds[fact.Lost{}.Kind()] && kinds[fact.Found{}.Kind()])
	})
	t.Run("no frame of a restart is believed blindly", func(t *testing.T) {
		r := start(t)
		r.press("bench", "120.0", protocol.Unsaid)
		r.press("bench", "161.0", protocol.Unsaid)
		r.restart()
		r.press("bench", "161.0", protocol.Unsaid)
		assert.NotEqual(t, "in", r.state())
		assert.Empty(t, r.portions())
	})
}
