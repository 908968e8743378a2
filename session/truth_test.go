package session

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/scale/sim"
	"tared/session/fact"
	"tared/session/question"
)

// truth is a whole batch with no clock: simulated hands pour on simulated
// scales and see only what the bench shows, the real settler and the real
// machine judge, and the world knows what was really tipped. What the record
// says of each portion is held against it.
type truth struct {
	t      testing.TB
	seed   uint64
	rng    *rand.Rand
	world  *sim.World
	auto   *sim.Auto
	s      State
	start  State
	now    time.Time
	sets   map[string]*scale.Settler
	next   map[string]time.Time
	heard  map[string]time.Time
	eyes   func(sim.Guidance) sim.Guidance         // what the potter takes the page to say; nil: what it says
	lying  func(on string, sh sim.Shown) sim.Shown // what the line says in place of the display; nil: that
	names  map[string]string                       // by which name a scale speaks, where it is not its own
	bench  func(Input) (State, []fact.Fact, error) // takes inputs in place of the bare machine; nil: that
	cable  map[string]bool
	every  map[string]time.Duration
	unit   map[string]protocol.Unit
	mute   map[string]bool // scales that do not tell when they are at rest
	bare   bool            // the lines do not say net or gross
	repeat int
	echo   map[string]echo
	busy   time.Time // until then the computer reads no line, and then all at once
	heap   []late
	facts  []fact.Fact
	said   []string // what happened, for a person who must find out why

	shown sim.Guidance // of the present state, where fresh
	fresh bool
	turns int  // grows with each input
	hold  bool // the potter does as a trouble says

	tipped float64 // in the bucket when the last portion was recorded
	unseen float64 // what may have been tipped since, and was too little for the scale to show
	takes  []taken
	wrong  []string
}

// trouble is what goes wrong in a batch. It is called ten times a second.
type trouble struct {
	name   string
	potter func() sim.Potter
	model  func(m sim.Model) sim.Model
	bare   bool
	repeat int  // lines in which a scale says the same, for its converter is slower than its line
	slowly bool // two lines a second
	do     func(tr *truth)
	lines  []fact.Line // of the batch; nil: the usual six
	// astray is the share of batches that may end wrong or not at all, for troubles
	// in which what the scale shows can mean two things, or the answer that the
	// simulated potter gives is not the true one. Zero: none.
	astray float64
}

// newTruth makes an invented batch for two scales: four materials of which one
// is split in two portions and one is a strong colourant for the fine scale.
func newTruth(t testing.TB, seed uint64, tb trouble) *truth {
	tr := &truth{t: t, seed: seed, rng: rand.New(rand.NewPCG(seed, 77)), now: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC),
		sets: map[string]*scale.Settler{}, next: map[string]time.Time{}, heard: map[string]time.Time{},
		cable: map[string]bool{"bench": true, "fine": true}, every: map[string]time.Duration{}, bare: tb.bare}
	tr.repeat, tr.echo = tb.repeat, map[string]echo{}
	tr.mute, tr.unit = map[string]bool{}, map[string]protocol.Unit{}
	bench, fine := sim.Bench(), sim.Fine()
	if tb.model != nil {
		bench, fine = tb.model(bench), tb.model(fine)
	}
	tr.mute["bench"], tr.mute["fine"] = bench.NoFlag, fine.NoFlag
	var err error
	tr.world, err = sim.NewWorld(seed, tr.now, sim.Place{Name: "bench", Model: bench, Container: 60 + 100*tr.rng.Float64()},
		sim.Place{Name: "fine", Model: fine, Container: 4 + 20*tr.rng.Float64()})
	require.NoError(t, err)
	potter := sim.Steady
	if tb.potter != nil {
		potter = tb.potter
	}
	powders := sim.Materials()
	tr.auto = sim.NewAuto(sim.AutoOptions{Seed: seed, Potter: potter(), By: "Mara", Truth: question.Truth, Material: func(name string) sim.Material {
		m := powders[len(name)%len(powders)]
		m.Name = name
		return m
	}})
	for _, n := range tr.world.Names() {
		rates := []float64{5, 8, 10, 10, 20}
		tr.every[n] = time.Duration(float64(time.Second) / rates[tr.rng.IntN(len(rates))])
		if tb.slowly {
			tr.every[n] = 500 * time.Millisecond
		}
		tr.next[n] = tr.now.Add(time.Duration(tr.rng.Int64N(int64(tr.every[n]))))
	}
	tr.s.Pans = []pan.Pan{pan.New("bench", g("2000"), g("0.1")), pan.New("fine", g("300"), g("0.01"))}
	tr.s.cache = &cache{}
	tr.start = tr.s
	lines := tb.lines
	if lines == nil {
		lines = []fact.Line{line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "41.3", "0.4", "bench"),
			line("Ball clay", "base", "74.1", "0.7", "bench"), line("Tin oxide", "addition", "7.0", "0.1", "bench"),
			line("Copper carbonate", "strong", "4.72", "0.09", "fine"), line("Cobalt oxide", "strong", "1.30", "0.02", "fine")}
	}
	tr.record(fact.Fact{Seq: 1, At: tr.now, Batch: "260302a", By: "Mara", Body: fact.Planned{Title: "Truth test (invented)", Base: g("200"), Dry: g("208.7"),
		Lines:   lines,
		Allowed: map[string]string{"base": "1%", "addition": "2%", "strong": "2%"},
		Scales:  []fact.Scale{{Name: "bench", Format: "header-comma-mode", Step: g("0.1"), Max: g("2000"), Assumed: true}, {Name: "fine", Format: "header-comma-mode", Step: g("0.01"), Max: g("300"), Assumed: true}}}})
	tr.s = tr.s.Apply(tr.facts[0])
	return tr
}

func (tr *truth) note(format string, args ...any) {
	tr.said = append(tr.said, fmt.Sprintf("%7.2f ", tr.now.Sub(tr.facts[0].At).Seconds())+fmt.Sprintf(format, args...))
}

func (tr *truth) record(f fact.Fact) { tr.facts = append(tr.facts, f) }

func (tr *truth) input(in Input) {
	tr.turns++
	was := tr.s.word
	machine := tr.bench
	if machine == nil {
		machine = func(in Input) (State, []fact.Fact, error) { return Next(tr.s, in) }
	}
	next, facts, err := machine(in)
	if err != nil {
		tr.note("refused: %v", err)
		return
	}
	tr.s, tr.fresh = next, false
	if tr.s.word != was {
		tr.note("state %s", tr.s.word)
	}
	tr.recorded(facts)
}

// recorded takes what the record says from now on, and holds portions against the
// bucket.
func (tr *truth) recorded(facts []fact.Fact) {
	for _, f := range facts {
		tr.record(f)
		tr.note("%s %+v", f.Body.Kind(), f.Body)
		switch v := f.Body.(type) {
		case fact.Portion:
			// Two settled readings, each off by half a step and the noise: two steps,
			// or twice what the record itself admits.
			k := taken{seq: f.Seq, what: v.Material + ", " + v.How, got: grams(v.Delivered), real: tr.world.Tipped() - tr.tipped,
				allowed: math.Max(2*grams(v.Step), 2*grams(v.U)) + 1e-9}
			if v.How == "not-returned" {
				k.allowed += 0.5 // what clings is not seen
			}
			k.allowed += tr.unseen
			tr.tipped, tr.unseen = tr.world.Tipped(), 0
			tr.takes = append(tr.takes, k)
			if k.wrong() {
				tr.note("WRONG so far: %s", k)
			}
		case fact.Returned:
			tr.unseen += grams(tr.s.pan(v.Scale).Step())
		case fact.Amended:
			for i := range tr.takes {
				if tr.takes[i].seq == v.Of {
					tr.takes[i].got = grams(v.Is)
				}
			}
		}
	}
}

// taken is a portion beside what really reached the bucket since the one before.
type taken struct {
	seq                uint64
	what               string
	got, real, allowed float64
}

func (k taken) wrong() bool { return math.Abs(k.got-k.real) > k.allowed }

func (k taken) String() string {
	return fmt.Sprintf("%s: recorded %.3f, really %.3f", k.what, k.got, k.real)
}

func grams(m protocol.Mass) float64 { return float64(m) / float64(protocol.Gram) }

func (tr *truth) say(words string) {
	c := ParseCommand(words)
	c.By = "Mara"
	tr.note("says %q", words)
	tr.input(Input{At: tr.now, Command: &c})
}

func (tr *truth) guidance() sim.Guidance {
	if tr.fresh {
		return tr.shown
	}
	tr.fresh = true
	v := tr.s.View()
	n := v.Now
	gd := sim.Guidance{State: n.State, Material: n.Material, Scale: n.Scale, Cue: n.Cue, Eye: n.Eye, Known: n.In != ""}
	for _, m := range []struct {
		text string
		to   *protocol.Mass
	}{{n.Target, &gd.Target}, {n.Low, &gd.Low}, {n.High, &gd.High}, {n.Step, &gd.Step}, {n.In, &gd.In}} {
		if m.text != "" {
			*m.to = g(m.text)
		}
	}
	for _, s := range v.Scales {
		if s.Name == n.Scale {
			if gd.Link = s.Link; v.At.Sub(s.At) > scale.StaleAfter {
				gd.Link = "lost" // dashes
			}
		}
	}
	if v.Asked != nil {
		gd.Asked = v.Asked.Question
		for _, a := range v.Asked.Answers {
			gd.Answers = append(gd.Answers, sim.Answer{Word: a.Word, Needs: a.Needs})
		}
	}
	tr.shown = gd
	return gd
}

// see is the guidance as the potter takes it.
func (tr *truth) see() sim.Guidance {
	if tr.eyes == nil {
		return tr.guidance()
	}
	return tr.eyes(tr.guidance())
}

// do lets hands act at once.
func (tr *truth) do(a sim.Action) {
	if a.At.IsZero() {
		a.At = tr.now
	}
	tr.note("hands: %s %s %s %.2f", a.Scale, a.Verb, a.Word, a.Grams)
	require.NoError(tr.t, tr.world.Do(a))
	switch a.Verb {
	case sim.Lift:
		tr.auto.Saw(tr.now, a)
	case sim.Unplug:
		if tr.cable[a.Scale] {
			tr.cable[a.Scale] = false
			delete(tr.sets, a.Scale)
			u := scale.Update{Scale: a.Scale, At: tr.now, Link: scale.Lost, Why: "the cable is out"}
			tr.input(Input{At: tr.now, Update: &u})
		}
	case sim.Replug, sim.Mend:
		if !tr.cable[a.Scale] {
			tr.cable[a.Scale] = true
			u := scale.Update{Scale: a.Scale, At: tr.now, Link: scale.Waiting}
			tr.input(Input{At: tr.now, Update: &u})
		}
	}
}

// restart kills the daemon and starts it again.
func (tr *truth) restart() {
	tr.note("killed and started again")
	tr.turns++
	s := tr.start
	for _, f := range tr.facts {
		s = s.Apply(f)
	}
	s.Now = tr.now
	s.Pans = append([]pan.Pan(nil), s.Pans...)
	for i := range s.Pans {
		restorePan(&s.Pans[i], s.Containers)
	}
	tr.s, tr.fresh = s, false
	tr.sets = map[string]*scale.Settler{}
}

// echo is what a scale says some more times.
type echo struct {
	sh   sim.Shown
	left int
}

// shows gives what stands on a display, with the last conversion as often as the
// scale repeats it.
func (tr *truth) shows(on string) sim.Shown {
	sh := tr.world.Show(on, tr.now)
	if tr.lying != nil {
		sh = tr.lying(on, sh)
	}
	if e := tr.echo[on]; e.left > 0 && !sh.Silent && sh.Cable {
		tr.echo[on] = echo{e.sh, e.left - 1}
		return e.sh
	}
	tr.echo[on] = echo{sh, tr.repeat - 1}
	return sh
}

// late is a line that waits in a buffer.
type late struct {
	on string
	sh sim.Shown
}

// hear lets a scale say its line.
func (tr *truth) hear(on string) {
	l := late{on, tr.shows(on)}
	if name, ok := tr.names[on]; ok {
		l.on = name
	}
	if !tr.busy.IsZero() {
		tr.heap = append(tr.heap, l)
		return
	}
	tr.read(l)
}

// wakes reads what came while the computer was busy, each line as of now.
func (tr *truth) wakes() {
	if tr.busy.IsZero() || tr.now.Before(tr.busy) {
		return
	}
	tr.busy = time.Time{}
	at := tr.now
	for _, on := range tr.world.Names() {
		// The clock may be looked at before the lines are.
		if tr.heard[on] != (time.Time{}) && tr.now.Sub(tr.heard[on]) >= scale.StaleAfter && tr.rng.IntN(2) == 0 {
			delete(tr.sets, on)
			u := scale.Update{Scale: on, At: tr.now, Link: scale.Up, Stale: true, Why: "no reading for two seconds"}
			tr.input(Input{At: tr.now, Update: &u})
		}
	}
	for _, l := range tr.heap {
		tr.read(l)
		tr.now = tr.now.Add(20 * time.Microsecond)
	}
	tr.now, tr.heap = at, nil
}

func (tr *truth) read(l late) {
	on, sh := l.on, l.sh
	if sh.Silent || !sh.Cable {
		if last := tr.heard[on]; sh.Cable && !last.IsZero() && tr.now.Sub(last) >= scale.StaleAfter {
			tr.heard[on] = time.Time{}
			delete(tr.sets, on)
			u := scale.Update{Scale: on, At: tr.now, Link: scale.Up, Stale: true, Why: "no reading for two seconds"}
			tr.input(Input{At: tr.now, Update: &u})
		}
		return
	}
	tr.heard[on] = tr.now
	sign, digits := "+", sh.Value.String()
	if rest, below := strings.CutPrefix(digits, "-"); below {
		sign, digits = "-", rest
	}
	r := protocol.Reading{Status: sh.Status, Value: sh.Value, Unit: sh.Unit, Step: sh.Step, Stable: protocol.Unsaid, Raw: fmt.Appendf(nil, "ST,GS,%s%8s%2s", sign, digits, sh.Unit)}
	if !tr.mute[on] {
		r.Stable = protocol.No
		if sh.Stable {
			r.Stable = protocol.Yes
		}
	}
	if !tr.bare {
		r.Mode = sh.Mode
	}
	set := tr.sets[on]
	if set == nil {
		set = &scale.Settler{}
		tr.sets[on] = set
	}
	u := scale.Update{Scale: on, At: tr.now, Link: scale.Up, HasReading: true, Reading: r}
	if sh.Status == protocol.OK {
		var errMass, errStep error
		u.HasMass = true
		u.Mass, errMass = sh.Value.Nearest(sh.Unit)
		u.Step, errStep = sh.Step.Nearest(sh.Unit)
		require.NoError(tr.t, errors.Join(errMass, errStep))
		if sh.Unit != tr.unit[on] {
			set.Reset()
			tr.unit[on] = sh.Unit
		}
		u.Settled = set.Add(tr.now, u.Mass, u.Step, r.Stable)
		u.Late = set.Late()
	} else {
		set.Reset()
	}
	tr.input(Input{At: tr.now, Update: &u})
	if os.Getenv("TARED_TRACES") != "" {
		p := tr.s.pan(on)
		tr.note("\t%s %s %v settled %v; on %d carried %s gross %s", on, sh.Value, r.Stable, u.Settled, p.On(), p.Carried(), p.Gross())
	}
}

// pass lets one tick pass: the scales speak, and the bench looks at the clock.
func (tr *truth) pass(i int, tick time.Duration) {
	tr.now = tr.now.Add(tick)
	tr.world.Advance(tr.now)
	for _, n := range tr.world.Names() {
		if !tr.now.Before(tr.next[n]) {
			tr.next[n] = tr.next[n].Add(tr.every[n])
			tr.hear(n)
		}
	}
	tr.wakes()
	if i%25 == 0 && tr.busy.IsZero() {
		tr.input(Input{At: tr.now})
	}
}

// run mixes until the batch is finished, or long after it should be.
func (tr *truth) run(tb trouble) (finished bool) {
	const tick = 10 * time.Millisecond
	for i := 0; i < int(40*time.Minute/tick); i++ {
		tr.pass(i, tick)
		if i%2 == 0 && !tr.hold {
			for _, a := range tr.auto.Step(tr.now, tr.see()) {
				if a.Verb == sim.Say {
					tr.say(a.Word)
				} else {
					tr.do(a)
				}
			}
		}
		if i%10 == 0 && tb.do != nil {
			tb.do(tr)
		}
		if tr.auto.Done() {
			break
		}
	}
	for _, k := range tr.takes {
		if k.wrong() {
			tr.wrong = append(tr.wrong, k.String())
		}
	}
	if !tr.s.Batch.Finished {
		v := tr.s.View()
		tr.note("at the end: %+v asked %+v batch %+v", v.Now, v.Asked, tr.s.Batch.Steps)
		return false
	}
	if left := tr.world.Tipped() - tr.tipped; math.Abs(left) > 0.05 {
		tr.wrong = append(tr.wrong, fmt.Sprintf("%.3f g were tipped and never recorded", left))
	}
	return true
}

// now and then: about once in so many seconds.
func (tr *truth) chance(seconds float64) bool { return tr.rng.Float64() < 0.1/seconds }

func (tr *truth) any() string { return []string{"bench", "fine"}[tr.rng.IntN(2)] }

// once lets something happen one time in a batch, at a random time in its first
// three minutes.
func once(do func(tr *truth)) func(tr *truth) {
	at := map[*truth]time.Time{}
	return func(tr *truth) {
		when, ok := at[tr]
		if !ok {
			when = tr.now.Add(time.Duration(tr.rng.Int64N(int64(3 * time.Minute))))
			at[tr] = when
		}
		if !when.IsZero() && tr.now.After(when) {
			at[tr] = time.Time{}
			do(tr)
		}
	}
}

func noFlag(m sim.Model) sim.Model { m.NoFlag = true; return m }
func slow(m sim.Model) sim.Model   { m.Lag = 1200 * time.Millisecond; return m }
func tracks(m sim.Model) sim.Model { m.Track = true; return m }
func drifts(m sim.Model) sim.Model { m.Drift = -stepOf(m) / 30; return m }
func noisy(m sim.Model) sim.Model  { m.Noise = 0.4 * stepOf(m); return m }
func stepOf(m sim.Model) float64 {
	if m.Name == "fine" {
		return 0.01
	}
	return 0.1
}

// busy lets the computer read nothing for a while, now and then; what the potter
// sees stands still meanwhile.
func busy(tr *truth) {
	if tr.busy.IsZero() && tr.chance(4) {
		tr.busy = tr.now.Add(time.Duration((0.1 + 3*tr.rng.Float64()) * float64(time.Second)))
	}
}

func pressTare(tr *truth) { tr.do(sim.Action{Scale: tr.guidance().Scale, Verb: sim.TareKey}) }

var troubles = []trouble{
	{name: "none"},
	{name: "no flag of rest", model: noFlag},
	{name: "slow filter", model: slow},
	{name: "each weight in three lines", repeat: 3},
	{name: "each weight in three lines, no flag of rest, no mode", repeat: 3, bare: true, model: noFlag},
	{name: "two lines a second", slowly: true},
	{name: "two lines a second, no flag of rest, no mode", slowly: true, bare: true, model: noFlag},
	{name: "zero tracking", model: tracks},
	{name: "drift", model: drifts},
	{name: "noise", model: noisy},
	{name: "hurried", potter: sim.Hurried},
	{name: "distracted", potter: sim.Distracted},
	{name: "trembling", potter: sim.Trembling},
	{name: "tare key once", do: once(pressTare)},
	{name: "tare key once, lines say no mode", bare: true, do: once(pressTare)},
	{name: "tare key once, neither mode nor flag", bare: true, model: noFlag, do: once(pressTare)},
	{name: "tare key once, each weight in two lines", repeat: 2, do: once(pressTare)},
	{name: "tare key once, each weight in two lines, neither mode nor flag", astray: 0.07, repeat: 2, bare: true, model: noFlag, do: once(pressTare)},
	{name: "cable pulled, each weight in two lines", repeat: 2, do: func(tr *truth) {
		if tr.chance(25) {
			tr.do(sim.Action{Scale: tr.any(), Verb: sim.Unplug})
		}
	}},
	{name: "tare key often", astray: 0.1, do: func(tr *truth) {
		if tr.chance(30) {
			pressTare(tr)
		}
	}},
	{name: "tare key often, lines say no mode", astray: 0.15, bare: true, do: func(tr *truth) {
		if tr.chance(30) {
			pressTare(tr)
		}
	}},
	{name: "zero key", astray: 0.15, do: func(tr *truth) {
		if tr.chance(20) {
			tr.do(sim.Action{Scale: tr.any(), Verb: sim.ZeroKey})
		}
	}},
	{name: "unit key", do: func(tr *truth) {
		if tr.chance(15) {
			tr.do(sim.Action{Scale: tr.any(), Verb: sim.UnitKey})
		}
	}},
	{name: "knocks", do: func(tr *truth) {
		if tr.chance(3) {
			tr.do(sim.Action{Scale: tr.any(), Verb: sim.Knock, Grams: 3 + 10*tr.rng.Float64()})
		}
	}},
	{name: "leaning", do: func(tr *truth) {
		if tr.chance(10) {
			n := tr.any()
			tr.do(sim.Action{Scale: n, Verb: sim.Press, Grams: 2 + 60*tr.rng.Float64()})
			tr.do(sim.Action{Scale: n, Verb: sim.Release, At: tr.now.Add(time.Duration((0.5 + 3*tr.rng.Float64()) * float64(time.Second)))})
		}
	}},
	{name: "a spoon laid down", do: func(tr *truth) {
		// One that comes or goes together with the container cannot be told from powder.
		if now := tr.guidance(); tr.chance(10) && now.State == "pour" {
			n := now.Scale
			tr.do(sim.Action{Scale: n, Verb: sim.Lay, Word: "spoon", Grams: 18})
			tr.do(sim.Action{Scale: n, Verb: sim.Take, Word: "spoon", At: tr.now.Add(time.Duration((0.5 + 1.5*tr.rng.Float64()) * float64(time.Second)))})
		}
	}},
	{name: "cable pulled", do: func(tr *truth) {
		if tr.chance(25) {
			tr.do(sim.Action{Scale: tr.any(), Verb: sim.Unplug})
		}
	}},
	{name: "scale goes to sleep", astray: 0.2, do: func(tr *truth) {
		// It does so by itself when nothing has moved for a while.
		if now := tr.guidance(); tr.chance(40) && (now.State == "pour" || now.State == "in" || now.State == "container") {
			tr.do(sim.Action{Scale: now.Scale, Verb: sim.PowerKey})
		}
	}},
	{name: "a busy computer", do: busy},
	{name: "a busy computer, lines say no mode, no flag of rest", bare: true, model: noFlag, do: busy},
	{name: "killed", do: func(tr *truth) {
		if tr.chance(15) {
			tr.restart()
		}
	}},
	{name: "the other scale", do: otherScale()},
	{name: "the other scale, no flag, hurried", potter: sim.Hurried, model: noFlag, do: otherScale()},
	{name: "lifted early", astray: 0.2, do: func(tr *truth) {
		n := tr.guidance().Scale
		if _, on := tr.world.Inside(n); n != "" && on && tr.chance(15) {
			tr.do(sim.Action{Scale: n, Verb: sim.Stop})
			tr.do(sim.Action{Scale: n, Verb: sim.Lift, At: tr.now.Add(300 * time.Millisecond)})
			tr.do(sim.Action{Scale: n, Verb: sim.Put, At: tr.now.Add(time.Duration((0.6 + 3*tr.rng.Float64()) * float64(time.Second)))})
		}
	}},
}

// TestTruth lets simulated potters mix batches under every trouble and asks two
// things: does each record agree with what was really tipped, and does the
// batch come to its end. TARED_BATCHES sets how many batches each trouble gets.
func TestTruth(t *testing.T) {
	batches := batchesEach
	if n, err := strconv.Atoi(os.Getenv("TARED_BATCHES")); err == nil {
		batches = n
	}
	for _, tb := range troubles[:min(len(troubles), troublesToTry)] {
		t.Run(tb.name, func(t *testing.T) {
			t.Parallel()
			wrong, stuck := 0, 0
			for seed := range uint64(batches) {
				tr := newTruth(t, seed+1, tb)
				finished := tr.run(tb)
				if finished && len(tr.wrong) == 0 {
					continue
				}
				if !finished {
					stuck++
				} else {
					wrong++
				}
				t.Logf("seed %d: finished %v, state %s: %s", seed+1, finished, tr.s.state(), strings.Join(tr.wrong, "; "))
				if dir := os.Getenv("TARED_TRACES"); dir != "" {
					name := fmt.Sprintf("%s/%s-%d.txt", dir, strings.ReplaceAll(tb.name, " ", "-"), seed+1)
					require.NoError(t, os.WriteFile(name, []byte(strings.Join(slices.Clone(tr.said), "\n")), 0o600))
				}
			}
			require.LessOrEqual(t, float64(wrong+stuck), math.Ceil(tb.astray*float64(batches)), "of %d batches %d wrong, %d without an end", batches, wrong, stuck)
		})
	}
}
