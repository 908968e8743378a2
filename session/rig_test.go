package session

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/question"
	"tared/session/text"
)

// rig is a bench of pure calls: a clock that a test moves by hand, scales that
// say what it tells them to at ten lines a second, and every fact kept. After
// each input it checks what must always hold.
type rig struct {
	t     testing.TB
	s     State
	facts []fact.Fact
	now   time.Time
	sets  map[string]*scale.Settler
	shown map[string]protocol.Mass // on each pan, less its own tare
	tare  map[string]protocol.Mass
	step  protocol.Mass
	mode  protocol.Mode
	start State
	deaf  map[string]bool
	late  bool // the next line is read late
}

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}

// line is a material of an invented test batch, with a band of plus or minus band.
func line(name, role, target, band, on string) fact.Line {
	return fact.Line{Material: name, Role: role, Share: "10", Target: g(target), Low: g(target) - g(band), High: g(target) + g(band), Scale: on, Weighable: "good", U: g("0.13")}
}

// newRig starts an invented batch on two scales: bench in tenths, fine in hundredths.
func newRig(t testing.TB, lines ...fact.Line) *rig {
	r := &rig{t: t, now: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC), sets: map[string]*scale.Settler{},
		shown: map[string]protocol.Mass{}, tare: map[string]protocol.Mass{}, step: g("0.1"), deaf: map[string]bool{}}
	r.s.Pans = []pan.Pan{pan.New("bench", g("2000"), g("0.1")), pan.New("fine", g("200"), g("0.01"))}
	r.start = r.s
	p := fact.Planned{Title: "Test glaze (invented)", Base: g("1000"), Dry: g("1000"), Lines: lines,
		Allowed: map[string]string{"base": "1%", "addition": "2%", "strong": "2%"},
		Scales:  []fact.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000"), Assumed: true}, {Name: "fine", Step: g("0.01"), Max: g("200"), Assumed: true}, {Name: "eye", Step: g("0.01"), Max: g("100"), Eye: true}}}
	f := fact.Fact{Seq: 1, At: r.now, Batch: "260302a", By: "Mara", Body: p}
	r.facts = append(r.facts, f)
	r.s = r.s.Apply(f)
	return r
}

// input feeds one input and checks what always holds.
func (r *rig) input(in Input) error {
	r.t.Helper()
	next, facts, err := Next(r.s, in)
	if err != nil {
		require.Empty(r.t, facts)
		return err
	}
	said := r.s.said
	r.s = next
	for _, f := range facts {
		require.Equal(r.t, r.facts[len(r.facts)-1].Seq+1, f.Seq, "facts are numbered without a gap")
		r.facts = append(r.facts, f)
		if p, ok := f.Body.(fact.Portion); ok {
			switch p.How {
			case "tipped", "not-returned":
				require.Equal(r.t, p.Before-p.After, p.Delivered)
			case "tub":
				require.Equal(r.t, p.After-p.Before, p.Delivered)
			}
		}
	}
	v := r.s.View()
	v.Said = slices.DeleteFunc(slices.Clone(v.Said), func(n Notice) bool {
		return slices.ContainsFunc(said, func(o Notice) bool { return o.At.Equal(n.At) && o.Says.Same(n.Says) })
	})
	require.Empty(r.t, keyless(*v))
	require.Empty(r.t, contradiction(*v))
	return nil
}

func (r *rig) do(words string) error {
	c := ParseCommand(words)
	return r.input(Input{At: r.now, Command: &c})
}

func (r *rig) must(words string) {
	r.t.Helper()
	require.NoError(r.t, r.do(words))
}

// say sends one line of a scale.
func (r *rig) say(on string, stable protocol.Claim) {
	r.t.Helper()
	r.now = r.now.Add(100 * time.Millisecond)
	if r.deaf[on] {
		return
	}
	step := r.step
	if on == "fine" {
		step = g("0.01")
	}
	m := r.shown[on] - r.tare[on]
	set := r.sets[on]
	if set == nil {
		set = &scale.Settler{}
		r.sets[on] = set
	}
	d, err := protocol.ParseDecimal(m.Grams(step.Places()))
	require.NoError(r.t, err)
	u := scale.Update{Scale: on, At: r.now, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: step,
		Reading: protocol.Reading{Status: protocol.OK, Value: d, Unit: protocol.UnitGram, Stable: stable, Mode: r.mode, Raw: []byte(fmt.Sprintf("%s %s g", on, d))}}
	u.Settled = set.Add(r.now, m, step, stable)
	u.Late, r.late = r.late, false
	require.NoError(r.t, r.input(Input{At: r.now, Update: &u}))
}

// rest lets a scale stand still for a while.
func (r *rig) rest(on string, d time.Duration) {
	r.t.Helper()
	for range d / (100 * time.Millisecond) {
		r.say(on, protocol.Yes)
	}
}

// set puts the load on a pan to so many grams, in a few unstable steps, and lets it rest.
func (r *rig) set(on, to string) {
	r.t.Helper()
	from, want := r.shown[on], g(to)
	for i := 1; i <= 3; i++ {
		step := g("0.1")
		if on == "fine" {
			step = g("0.01")
		}
		m := from + (want-from)*protocol.Mass(i)/4
		r.shown[on] = m / step * step
		r.say(on, protocol.No)
	}
	r.shown[on] = want
	r.rest(on, 1500*time.Millisecond)
}

// jump changes the load between two lines.
func (r *rig) jump(on, to string) { r.shown[on] = g(to) }

// key presses the scale's own tare key.
func (r *rig) key(on string) { r.tare[on] = r.shown[on] }

func (r *rig) tick(d time.Duration) {
	r.t.Helper()
	r.now = r.now.Add(d)
	require.NoError(r.t, r.input(Input{At: r.now}))
}

func (r *rig) lose(on string) {
	r.t.Helper()
	r.now = r.now.Add(100 * time.Millisecond)
	u := scale.Update{Scale: on, At: r.now, Link: scale.Lost, Why: "the cable is out"}
	delete(r.sets, on)
	require.NoError(r.t, r.input(Input{At: r.now, Update: &u}))
}

// restart throws the live state away and replays the facts, as after a kill.
func (r *rig) restart() {
	r.t.Helper()
	s := r.start
	for _, f := range r.facts {
		s = s.Apply(f)
	}
	want := r.s.Batch
	require.Equal(r.t, want, s.Batch, "a replay ends where the live bench stood")
	s.Now = r.now
	s.Pans = append([]pan.Pan(nil), s.Pans...)
	for i := range s.Pans {
		restorePan(&s.Pans[i], s.Containers)
	}
	r.s = s
	r.sets = map[string]*scale.Settler{}
}

func (r *rig) state() string { return r.s.View().Now.State }

func (r *rig) portions() (out []fact.Portion) {
	for _, f := range r.facts {
		if p, ok := f.Body.(fact.Portion); ok {
			out = append(out, p)
		}
	}
	return out
}

func (r *rig) kinds() (out []string) {
	for _, f := range r.facts {
		out = append(out, f.Body.Kind())
	}
	return out
}

func (r *rig) last() fact.Body { return r.facts[len(r.facts)-1].Body }

func (r *rig) lastPortion() fact.Portion {
	r.t.Helper()
	ps := r.portions()
	require.NotEmpty(r.t, ps)
	return ps[len(ps)-1]
}

// spoken gives what a message, or a list of them, says.
func spoken(messages any) string { return fmt.Sprint(messages) }

func spokenLines(messages []text.Message) (all []string) {
	for _, m := range messages {
		all = append(all, m.String())
	}
	return all
}

// reminded gives the lines of the reminder, whether it is asked or not.
func reminded(s State) []string {
	_, lines := question.Reminder.Ask(&question.Scene{Batch: s.Batch})
	return spokenLines(lines)
}

func answerWords(v View) (words []string) {
	if v.Asked != nil {
		for _, a := range v.Asked.Answers {
			words = append(words, a.Word)
		}
	}
	return words
}

// open is Open where the beginning of the journal is no matter: a test counts its lines.
func open(dir string, now time.Time) (*journal.Journal, Past, journal.Report, error) {
	j, past, rep, err := Open(dir, "", now)
	past.Begin = nil
	return j, past, rep, err
}

// netU is the U of one net weight of a scale of which nothing else is known.
func netU(step, spread protocol.Mass) protocol.Mass {
	return doubt.Scale{Step: step, Spread: spread}.U(0)
}
