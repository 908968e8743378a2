package sim

import (
	"math"
	"math/rand/v2"
	"time"

	"tared/protocol"
)

// Trial is one pour by one potter of one material on one scale: what a study of
// cues repeats many times. It needs no clock.
type Trial struct {
	Seed      uint64
	Scale     Model
	Rate      float64 // lines a second: 2 to 20 on real scales
	Potter    Potter
	Material  Material
	Container float64 // grams
	Target    protocol.Mass
	Low, High protocol.Mass
	Flow      float64 // grams a second in full run; 0: as the potter likes it
	Ease      float64 // share of the flow that is left after "ease"; 0: 0.3
	Knocks    float64 // knocks a second, of thirty steps each
	// Longest ends a pour that nobody stops; 0: two minutes.
	Longest time.Duration
}

// Guide is the judge of a pour. Hear gets every line that the scale sends and
// says what the potter is told now: "", "ease" or "stop". Tared is what the scale
// showed with the empty container at rest, before the first line of the pour.
type Guide interface {
	Tared(Shown)
	Hear(Shown) (cue string)
}

// Ticker is a Guide that also speaks between two lines of the scale.
type Ticker interface {
	Tick(now time.Time) (cue string)
}

// tickEach is how often a Ticker is asked.
const tickEach = 50 * time.Millisecond

// Watcher is a Guide that also sees the empty pan and the container come to rest.
type Watcher interface {
	Watch(Shown)
}

// Rester is a Guide that also sees the pour come to rest.
type Rester interface {
	Rest(Shown)
}

// Outcome is what came of a Trial.
type Outcome struct {
	Landed  float64       // grams really in the container when all had come to rest
	Shown   protocol.Mass // what the scale said of it then, less the tare
	Verdict string        // under, in or over, by Landed
	Told    bool          // "stop" was said at all
	At      float64       // grams in the container when it was said
	Took    time.Duration // from the first grain to the stop of the hand
	// What came after, until it was right: the potter waits till the display stands,
	// reads it, takes out what is too much and adds what is missing with a spoon.
	Spoons int           // spoonfuls that it took
	Right  time.Duration // from the first grain until the display stood within the marks; 0: never
}

// Run pours once.
func (t Trial) Run(g Guide) (Outcome, error) {
	start := time.Unix(0, 0).UTC()
	s, err := NewScale(t.Scale, t.Seed, start)
	if err != nil {
		return Outcome{}, err
	}
	rng := source(t.Seed, "trial")
	longest := t.Longest
	if longest == 0 {
		longest = 2 * time.Minute
	}
	// A line comes where the scale's own rate puts it, not in step with the pour.
	every := time.Duration(float64(time.Second) / t.Rate)
	step := s.step()
	v := &Vessel{Name: "container", Empty: t.Container}
	now := start.Add(time.Second)
	watcher, _ := g.(Watcher)
	ticker, _ := g.(Ticker)
	rest := now.Add(4*time.Second + 15*t.Scale.Lag)
	for at := start; watcher != nil && at.Before(rest); at = at.Add(every) {
		if at.After(now) {
			s.Put(now, v)
		}
		watcher.Watch(s.At(at))
	}
	s.Put(now, v)
	now = rest
	tare := s.At(now)
	g.Tared(tare)

	rate := t.Flow
	if rate == 0 {
		rate = pourRate(gramsOf(t.Target), step, t.Potter, t.Material)
	}
	ease := t.Ease
	if ease == 0 {
		ease = 0.3
	}
	now = now.Add(time.Duration(rng.Int64N(int64(every))))
	began := now
	flow := t.Potter.flow(t.Material, rate, 0)
	s.Pour(now, flow)
	var out Outcome
	var easeAt, stopAt time.Time
	attention := attention{potter: t.Potter, rng: rng}
	end := began.Add(longest)
	knock := began.Add(gap(rng, t.Knocks))
	for ; now.Before(end); now = now.Add(every) {
		if t.Knocks > 0 && now.After(knock) {
			s.Knock(now, 30*step)
			knock = now.Add(gap(rng, t.Knocks))
		}
		heed := func(cue string, at time.Time) {
			switch {
			case cue == "ease" && easeAt.IsZero():
				easeAt = attention.acts(at)
			case cue == "stop" && stopAt.IsZero():
				out.Told, out.At = true, v.Content()
				stopAt = attention.acts(at)
			}
		}
		heed(g.Hear(s.At(now)), now)
		next := now.Add(every)
		for at := now.Add(tickEach); ticker != nil && at.Before(next); at = at.Add(tickEach) {
			heed(ticker.Tick(at), at)
		}
		if !easeAt.IsZero() && easeAt.Before(next) && (stopAt.IsZero() || easeAt.Before(stopAt)) {
			slow := flow
			slow.Rate, slow.Lumps = flow.Rate*ease, flow.Lumps*ease
			s.Pour(easeAt, slow)
			easeAt = end // once
		}
		if !stopAt.IsZero() && stopAt.Before(next) {
			now = stopAt
			break
		}
	}
	s.Stop(now)
	stopped := now
	out.Took = stopped.Sub(began)
	rest = now.Add(4*time.Second + 15*t.Scale.Lag)
	rester, _ := g.(Rester)
	var d display
	var stands time.Duration // after the stop of the hand
	for at := now; at.Before(rest); at = at.Add(every) {
		sh := s.At(at)
		if rester != nil {
			rester.Rest(sh)
		}
		if d = append(d, sh); stands == 0 && d.stood(step) {
			stands = at.Sub(stopped)
		}
	}
	now = rest
	last := s.At(now)
	out.Landed = v.Content()
	if a, ok := last.mass(); ok {
		if b, ok := tare.mass(); ok {
			out.Shown = a - b
		}
	}
	switch {
	case out.Landed < gramsOf(t.Low):
		out.Verdict = "under"
	case out.Landed > gramsOf(t.High):
		out.Verdict = "over"
	default:
		out.Verdict = "in"
	}
	out.Right, out.Spoons = t.mend(s, now, every, tare, rng, stands)
	if out.Right > 0 {
		out.Right += stopped.Sub(began)
	}
	return out, nil
}

// How a pour is mended. The figures are ours.
const (
	spoonful  = 5.0         // grams: a level teaspoon of powder
	finest    = 2           // steps: nobody aims finer with a spoon
	mostSpoon = 100         // then the potter gives up
	lookTime  = time.Second // a display that stood so long is believed
)

// display collects what a potter sees, to tell when it stands.
type display []Shown

// stood tells that the display has stood within a step for lookTime, up to its last
// line.
func (d display) stood(step float64) bool {
	last := len(d) - 1
	for i := last; i >= 0; i-- {
		if math.Abs(d[i].grams()-d[last].grams()) > 1.5*step {
			return false
		}
		if d[last].At.Sub(d[i].At) >= lookTime {
			return true
		}
	}
	return false
}

// mend brings what was poured within the marks, as a potter does whatever the
// guide was: waits till the display stands, reads it, takes out with a spoon what
// is too much or taps in what is missing, and looks again. It gives the time from
// the stop of the hand until the display stood within the marks, zero for never,
// and the spoonfuls. The display first stood so long after that stop as after says;
// the mending begins at now, when all is long at rest.
func (t Trial) mend(s *Scale, now time.Time, every time.Duration, tare Shown, rng *rand.Rand, after time.Duration) (time.Duration, int) {
	p, step := t.Potter, s.step()
	for spoons := range mostSpoon {
		in := s.At(now).grams() - tare.grams()
		if in > gramsOf(t.Low)-step/100 && in < gramsOf(t.High)+step/100 { // grams carry no tenth exactly
			return after, spoons
		}
		missing := gramsOf(t.Target) - in
		amount := max(min(math.Abs(missing), spoonful)*(1+p.Aim*rng.NormFloat64()), finest*step)
		began := now
		if missing < 0 {
			for _, a := range spooning(now, p, amount) {
				now = a.At
				switch a.Verb {
				case Press:
					s.Press(now, a.Grams)
				case Spoon:
					s.Spoon(now, a.Grams)
				case Release:
					s.Press(now, 0)
				}
			}
		} else {
			now = now.Add(seconds(0.6 / p.Haste)) // to take up a spoon of it
			s.Pour(now, p.taps(t.Material, amount*p.Haste, amount))
			for s.Pouring() {
				now = now.Add(every)
				s.At(now)
			}
		}
		var d display
		for limit := now.Add(time.Minute); now.Before(limit) && !d.stood(step); now = now.Add(every) {
			d = append(d, s.At(now))
		}
		after += now.Sub(began)
	}
	return 0, mostSpoon
}

// gap draws the time to the next of events that come so often a second.
func gap(rng *rand.Rand, often float64) time.Duration {
	if often <= 0 {
		return 0
	}
	return seconds(rng.ExpFloat64() / often)
}

// attention turns a sign into the time at which the hand moves.
type attention struct {
	potter Potter
	rng    *rand.Rand
}

func (a attention) acts(now time.Time) time.Time {
	d := a.potter.react(a.rng)
	// Whoever looks away for Lapse at a time and Lapses times a second misses a sign
	// with about that share, and sees it when the rest of the lapse is over.
	if a.rng.Float64() < a.potter.Lapses*a.potter.Lapse {
		d += a.potter.Lapse * a.rng.Float64()
	}
	return now.Add(seconds(d))
}

// ByReading is the simplest Guide: it says stop when the display shows the low
// mark. It is what a potter has without any help, and the measure for better
// ones.
type ByReading struct {
	Low  protocol.Mass
	tare protocol.Mass
}

// Tared notes the empty container.
func (b *ByReading) Tared(s Shown) { b.tare, _ = s.Value.Mass(s.Unit) }

// Hear compares the display with the mark.
func (b *ByReading) Hear(s Shown) string {
	if m, ok := s.mass(); ok && m-b.tare >= b.Low {
		return "stop"
	}
	return ""
}
