package session

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	say "tared/session/sentence"
)

// Why the zero of a scale is not where it was stands in the record, each reason in
// words of its own: nobody is said to have pressed a key who did not, and what was
// inferred says so.
func TestZeroSaysWhyItMoved(t *testing.T) {
	start := func(t *testing.T) *rig {
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40", "0.4", "bench"))
		r.must("yes Mara")
		return r
	}
	for _, c := range []struct {
		name, container string
		do              func(r *rig)
		says            string
	}{
		{"nothing", "118.4", func(r *rig) { r.set("bench", "0"); r.set("bench", "118.4") }, ""},
		{"drift down", "118.4", func(r *rig) { r.set("bench", "-0.1"); r.set("bench", "118.3") }, "The zero had drifted to -0.1 g, which is accounted for."},
		{"drift up", "118.4", func(r *rig) { r.set("bench", "0.2"); r.set("bench", "118.6") }, "The zero had drifted to 0.2 g, which is accounted for."},
		{"drift in both ways", "118.4", func(r *rig) { r.set("bench", "0.3"); r.set("bench", "-0.1"); r.set("bench", "118.3") }, "The zero had drifted to -0.1 g, which is accounted for."},
		{"an object taken away from the pan", "118.4", func(r *rig) { r.set("bench", "-20"); r.set("bench", "98.4") },
			"20.0 g was taken off the pan after the scale was zeroed, which is accounted for."},
		{"an object that stays on the pan", "118.4", func(r *rig) {
			r.set("bench", "118.4")
			r.set("bench", "168.4") // 30 g of it a spoon beside the container
			for _, m := range []string{"80", "30"} {
				r.jump("bench", m)
				r.say("bench", protocol.No)
			}
			r.set("bench", "30")
			r.set("bench", "148.4")
			r.must("again")
		}, "An object of 30.0 g is on the pan beside the container, which is accounted for."},
		{"the key, pressed", "118.4", func(r *rig) {
			r.mode = protocol.Gross
			r.set("bench", "118.4")
			r.key("bench")
			r.mode = protocol.Net
			r.rest("bench", time.Second)
			r.must("again")
		}, "The scale's own tare key took up 118.4 g."},
		{"the key, given up", "118.4", func(r *rig) {
			r.mode = protocol.Net
			r.set("bench", "118.4")
			r.tare["bench"] = g("-50")
			r.mode = protocol.Gross
			r.rest("bench", time.Second)
			r.must("again")
		}, "The scale's own tare key gave back 50.0 g."},
		{"the key, as it seems", "118.4", func(r *rig) {
			r.set("bench", "118.4")
			r.key("bench")
			r.rest("bench", time.Second)
			r.must("again")
		}, "Inferred, not seen: the scale's own tare key took up 118.4 g."},
		{"the key, inferred while the container was lifted", "170.0", func(r *rig) {
			r.set("bench", "118.4")
			r.set("bench", "160.0")
			r.tare["bench"] = g("160.0")
			r.say("bench", protocol.No) // the display falls as if it were lifted
			r.rest("bench", 2*time.Second)
			for i := range protocol.Mass(40) { // and powder comes
				r.shown["bench"] = g("160.0") + i*g("0.2")
				r.say("bench", protocol.No)
			}
			r.set("bench", "170.0")
			r.must("again")
		}, "Inferred, not seen: the scale's own tare key took up 160.0 g."},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := start(t)
			c.do(r)
			var f fact.Fact
			for _, x := range r.facts {
				if _, ok := x.Body.(fact.Tared); ok {
					f = x
				}
			}
			v, ok := f.Body.(fact.Tared)
			require.True(t, ok, "%v", r.kinds())
			assert.Equal(t, g(c.container), v.Container)
			words := say.Of(f)
			if assert.Contains(t, words, c.says); c.says == "" {
				assert.NotContains(t, words, "zero had")
			}
			if !strings.Contains(c.says, "key") {
				assert.NotContains(t, words, "key")
			}
			if !strings.Contains(c.says, "Inferred") {
				assert.NotContains(t, words, "nferred")
			}
			r.restart()
		})
	}
}

// A journal that does not say why opens with the same weights, and blames nobody.
func TestZeroOfOldJournals(t *testing.T) {
	var v fact.Tared
	require.NoError(t, json.Unmarshal([]byte(`{"scale":"bench","container":{"g":"118.4"},"weight":{"g":"118.4"},"carried":{"g":"0.1"},"how":"container","step":{"g":"0.1"},"raw":["118.3 g"]}`), &v))
	assert.Equal(t, g("0.1"), v.Carried)
	words := say.Of(fact.Fact{Body: v})
	assert.Contains(t, words, "The zero had moved by 0.1 g before, which is accounted for.")
	assert.NotContains(t, words, "key")
}
