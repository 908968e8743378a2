package session

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/fact"
)

// anything is a bench to which anything may happen. After each input it holds what
// must always hold:
//
//   - the target is met only by a reading at rest inside the band;
//   - a portion rests on lines that were at rest, where it does not say otherwise;
//   - what was recorded of each material is the sum of its portions;
//   - a replay of the facts ends where the live bench stands;
//   - a page that is told what changed has the whole view.
type anything struct {
	*rig
	rt    *rapid.T
	rests map[string]bool // the lines that were at rest when they came
	lines int
	known int // facts looked at
	views Views
	page  watchingPage
}

func (a *anything) hear(on string, m protocol.Mass, claim protocol.Claim) {
	step := map[string]protocol.Mass{"bench": g("0.1"), "fine": g("0.01")}[on]
	a.now = a.now.Add(100 * time.Millisecond)
	if a.sets[on] == nil {
		a.sets[on] = &scale.Settler{}
	}
	a.shown[on] = m / step * step
	net := a.shown[on] - a.tare[on]
	a.lines++
	raw := fmt.Sprintf("%s %s #%d", on, net.Grams(step.Places()), a.lines)
	d, err := protocol.ParseDecimal(net.Grams(step.Places()))
	require.NoError(a.rt, err)
	u := scale.Update{Scale: on, At: a.now, Link: scale.Up, HasReading: true, HasMass: true, Mass: net, Step: step,
		Reading: protocol.Reading{Status: protocol.OK, Value: d, Unit: protocol.UnitGram, Stable: claim, Mode: a.mode, Raw: []byte(raw)}}
	u.Settled = a.sets[on].Add(a.now, net, step, claim)
	if u.Settled {
		a.rests[raw] = true
	}
	require.NoError(a.rt, a.input(Input{At: a.now, Update: &u}))
	a.holds()
}

// move takes the load on a pan somewhere in some lines, and lets it rest there if
// it is to.
func (a *anything) move(on string, to protocol.Mass, lines int, rest bool) {
	from := a.shown[on]
	for i := 1; i <= lines; i++ {
		a.hear(on, from+(to-from)/protocol.Mass(lines)*protocol.Mass(i), protocol.No)
	}
	if rest {
		for range 15 {
			a.hear(on, to, protocol.Yes)
		}
	}
}

func (a *anything) holds() {
	if a.lines%5 == 0 {
		v := a.s.View().Shown()
		a.views.Show(&v)
		a.page.hear(a.rt)
		a.page.holds(a.rt, v)
	}
	i, p := -1, (*pan.Pan)(nil)
	if a.s.open() {
		i, p = a.s.current()
	}
	if a.s.word == "in" {
		require.NotNil(a.rt, p)
		aim := a.s.aim(i)
		require.True(a.rt, p.AtRest(), "in the band, and not at rest")
		require.True(a.rt, p.Content() >= aim.Low && p.Content() <= aim.High, "in the band with %s of %s to %s", p.Content(), aim.Low, aim.High)
	}
	for ; a.known < len(a.facts); a.known++ {
		v, ok := a.facts[a.known].Body.(fact.Portion)
		if !ok || v.How == "typed" || v.How == "unsettled" {
			continue
		}
		for _, raw := range v.Raw {
			require.True(a.rt, a.rests[raw], "%s g of %s (%s) rest on %q, which was not at rest", v.Delivered, v.Material, v.How, raw)
		}
	}
	sum, void := map[string]protocol.Mass{}, map[uint64]protocol.Mass{}
	for _, f := range a.facts {
		if f.Batch != a.s.Batch.Mark {
			continue
		}
		switch v := f.Body.(type) {
		case fact.Portion:
			sum[v.Material] += v.Delivered
			void[f.Seq] = v.Delivered
		case fact.Amended:
			sum[v.Material] -= void[v.Of]
			void[v.Of] = v.Is
			sum[v.Material] += v.Is
		}
	}
	for _, st := range a.s.Batch.Steps {
		require.Equal(a.rt, sum[st.Material], st.Delivered, "%s: the step holds what its portions say", st.Material)
	}
}

func TestAnythingMayHappen(t *testing.T) {
	words := []string{"done", "keep", "enlarge", "again", "next", "undo", "undo yes", "skip", "skip yes", "done yes", "no", "yes", "pause", "resume", "yes Mara", "by Ilse", "note x", "typed 3.1g", "anew spoiled",
		"relearn", "substitute Flint"}
	rapid.Check(t, func(rt *rapid.T) {
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Copper carbonate", "strong", "2.50", "0.05", "fine"),
			line("Whiting", "base", "40.0", "0.4", "bench"), line("Cobalt oxide", "strong", "1.30", "0.03", "fine"))
		a := &anything{rig: r, rt: rt, rests: map[string]bool{}}
		a.page.w = a.views.Watch(nil)
		r.must("yes Mara")
		r.mode = rapid.SampledFrom([]protocol.Mode{protocol.ModeUnsaid, protocol.Net}).Draw(rt, "mode")
		scales := rapid.SampledFrom([]string{"bench", "fine"})
		weights := map[string]*rapid.Generator[int64]{"bench": rapid.Int64Range(0, 3000), "fine": rapid.Int64Range(0, 1500)}
		for range rapid.IntRange(5, 40).Draw(rt, "inputs") {
			on := scales.Draw(rt, "scale")
			to := protocol.Mass(weights[on].Draw(rt, "tenths")) * protocol.Gram / 10
			switch what := rapid.SampledFrom([]string{"put", "pour", "aim", "aim", "aim", "lift", "back", "lines", "key", "lose", "restart", "wait", "word", "word"}).Draw(rt, "what"); what {
			case "put":
				a.move(on, to, 3, true)
			case "pour":
				a.move(on, a.shown[on]+to/10, rapid.IntRange(1, 45).Draw(rt, "lines"), rapid.Bool().Draw(rt, "rest"))
			case "aim": // what the page asks for, mostly on the scale that it names
				i, p := a.s.current()
				if i < 0 || p == nil {
					continue
				}
				if rapid.IntRange(0, 3).Draw(rt, "other") > 0 {
					on = p.Name()
				}
				if a.s.pan(on).On() == pan.Empty {
					a.move(on, protocol.Mass(rapid.Int64Range(40, 1500).Draw(rt, "container"))*protocol.Gram/10, 3, true)
				}
				a.move(on, a.shown[on]+a.s.aim(i).Target, rapid.IntRange(1, 45).Draw(rt, "lines"), rapid.Bool().Draw(rt, "rest"))
			case "lift":
				a.move(on, 0, rapid.IntRange(1, 4).Draw(rt, "lines"), rapid.Bool().Draw(rt, "rest"))
			case "back":
				p := a.s.pan(on)
				a.move(on, p.Vessel().Weight-p.Carried()+protocol.Mass(rapid.IntRange(-2, 6).Draw(rt, "clings"))*p.Step(), 2, true)
			case "lines":
				for range rapid.IntRange(1, 5).Draw(rt, "n") {
					a.hear(on, to, protocol.Claim(rapid.IntRange(0, 2).Draw(rt, "claim")))
				}
			case "key":
				r.key(on)
				for range 12 {
					a.hear(on, a.shown[on], protocol.Yes)
				}
			case "lose":
				r.lose(on)
			case "restart":
				r.restart()
			case "wait":
				r.tick(time.Duration(rapid.IntRange(1, 200).Draw(rt, "seconds")) * time.Second)
			default:
				c := ParseCommand(rapid.SampledFrom(words).Draw(rt, "words"))
				if c.Word == "anew" {
					c.mark = strings.TrimRight(a.s.Batch.Mark, "z") + strings.Repeat("z", strings.Count(a.s.Batch.Mark, "z")+1)
				}
				_ = r.input(Input{At: r.now, Command: &c})
			}
			a.holds()
		}
		r.restart()
	})
}
