package session

import (
	"encoding/json"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/text"
)

// watchingPage does what a page does with what it is told.
type watchingPage struct {
	w    *Watcher
	view any
}

func (p *watchingPage) hear(t require.TestingT) []byte {
	b, _ := p.w.Next()
	var told map[string]any
	require.NoError(t, json.Unmarshal(b, &told))
	set, ok := told["set"].(map[string]any)
	if !ok {
		p.view = told
		return b
	}
	for place, value := range set {
		names := strings.Split(place, ".")
		part := p.view
		for i, name := range names {
			last := i == len(names)-1
			switch at := part.(type) {
			case map[string]any:
				if last {
					at[name] = value
				}
				part = at[name]
			case []any:
				n, err := strconv.Atoi(name)
				require.NoError(t, err)
				if last {
					at[n] = value
				}
				part = at[n]
			default:
				require.Fail(t, "no such place", place)
			}
		}
	}
	return b
}

// holds says that what the page has is the whole view, read as whoever reads it.
func (p *watchingPage) holds(t require.TestingT, v View) {
	b, err := json.Marshal(p.view)
	require.NoError(t, err)
	require.JSONEq(t, string(whole(&v, text.English)), string(b))
}

// forgets is a journal that keeps nothing.
type forgets struct{}

func (forgets) Append(facts []fact.Fact) ([][]byte, error) { return make([][]byte, len(facts)), nil }

// A page that watches has the newest view, whichever of those before it was late for.
func TestWhatChangedMakesTheView(t *testing.T) {
	var views Views
	prompt, late := watchingPage{w: views.Watch(nil)}, watchingPage{w: views.Watch(nil)}
	step := StepView{Material: "Quartz", State: "now"}
	for i, v := range []View{
		{Said: []Notice{{Says: text.New("notice.restarted", text.Name("batch", "a"))}}},
		{Seq: 1, Batch: &BatchView{Mark: "a", Steps: []StepView{step}}},
		{Seq: 2, Batch: &BatchView{Mark: "a", Steps: []StepView{step, step}}, Scales: []ScaleView{{Name: "bench", Shows: "1.0", Check: &CheckView{}}}},
		{Seq: 3, Scales: []ScaleView{{Name: "bench", Shows: "<&>\u2028", At: time.Unix(5, 7)}}, Now: NowView{Show: Show{Bar: &BarView{}, Word: text.New("show.lift")}}},
		{Seq: 4, Now: NowView{As: "Flint", Show: Show{Bar: &BarView{Fill: -1}, About: []text.Message{text.New("show.base")}}, Headline: text.New("show.lift")}},
		{Seq: 5, Recording: Recording{OK: true}, Now: NowView{Show: Show{About: []text.Message{text.New("show.strong")}}}},
	} {
		views.Show(&v)
		prompt.hear(t)
		prompt.holds(t, v)
		if i%2 == 1 {
			late.hear(t)
			late.holds(t, v)
		}
		b, _ := prompt.w.Next()
		require.Nil(t, b, "nothing new")
	}
}

// Each who watches reads their own language, digits as well; who reads the same is told the
// same slice, so that a view is encoded once for each language in use.
func TestEachReadsTheirOwn(t *testing.T) {
	var views Views
	german := text.Named("de")
	en, one, two := views.Watch(nil), views.Watch(nil).In(german), views.Watch(nil).In(german)
	told := func(w *Watcher) (v View, b []byte) {
		b, _ = w.Next()
		require.NoError(t, json.Unmarshal(b, &v))
		return v, b
	}
	views.Show(&View{Now: NowView{Target: "84.6", In: "1.0", Headline: text.New("show.steady-for", text.Duration("time", 2500*time.Millisecond)), Show: Show{Digits: "83.6"}}})
	v, _ := told(en)
	require.Equal(t, []string{"84.6", "1.0", "83.6"}, []string{v.Now.Target, v.Now.In, v.Now.Show.Digits})
	v, a := told(one)
	require.Equal(t, []string{"84,6", "1,0", "83,6"}, []string{v.Now.Target, v.Now.In, v.Now.Show.Digits})
	require.Equal(t, german.Say(v.Now.Headline), v.Now.Headline.Words)
	_, b := told(two)
	require.Same(t, &a[0], &b[0])
	views.Show(&View{Seq: 1, Now: NowView{Target: "84.6", In: "2.5"}})
	a, _ = one.Next()
	b, _ = two.Next()
	require.Same(t, &a[0], &b[0])
	require.Contains(t, string(a), `"now.in":"2,5"`)
}

// What is told of a line while powder runs is what changes with a line.
func TestALineTellsLittle(t *testing.T) {
	now := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	r := newRig(t, line("Quartz", "base", "284.6", "2.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
	r.must("yes Mara")
	b := New(Config{Recorder: forgets{}, Scales: benchScales, Now: func() time.Time { return now }})
	b.s = r.s
	page := watchingPage{w: b.Watch(nil)}
	defer page.w.Close()
	page.hear(t)
	n, bytes, most := 0, 0, 0
	for i := range 300 {
		now = now.Add(100 * time.Millisecond)
		m := g("118.4")
		if i > 40 {
			m += protocol.Mass(i-40) * g("1.1")
		}
		require.NoError(t, b.input(Input{At: now, Update: &scale.Update{Scale: "bench", At: now, Link: scale.Up, HasReading: true, HasMass: true,
			Mass: m, Step: g("0.1"), Settled: i <= 40, Counts: scale.Counts{Frames: uint64(i)},
			Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram, Raw: []byte("ST,GS," + m.Grams(1) + " g")}}}))
		if told := page.hear(t); i > 60 && i < 240 {
			n, bytes, most = n+1, bytes+len(told), max(most, len(told))
		}
	}
	t.Logf("%d views, %d bytes each, %d at most", n, bytes/n, most)
	require.LessOrEqual(t, bytes/n, 400)
}
