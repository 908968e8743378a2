package session

import (
	"math"
	"math/rand/v2"
	"time"

	"tared/protocol"
	"tared/scale/sim"
)

// pourTrial is one pour by one potter of one material on one scale: what a study of
// cues repeats many times. It needs no clock.
type pourTrial struct {
	Seed      uint64
	Scale     sim.Model
	Rate      float64 // lines a second: 2 to 20 on real scales
	Potter    sim.Potter
	Material  sim.Material
	Container float64 // grams
	Target    protocol.Mass
	Low, High protocol.Mass
	Flow      float64 // grams a second in full run; 0: as the potter likes it
	Ease      float64 // share of the flow that is left after "ease"; 0: 0.3
	Knocks    float64 // knocks a second, of thirty steps each
	// Longest ends a pour that nobody stops; 0: two minutes.
	Longest time.Duration
}

// pourGuide is the judge of a pour. Hear gets every line that the scale sends and
// says what the potter is told now: "", "ease" or "stop". Tared is what the scale
// showed with the empty container at rest, before the first line of the pour.
type pourGuide interface {
	Tared(sim.Shown)
	Hear(sim.Shown) (cue string)
}

// tickGuide is a pourGuide that also speaks between two lines of the scale.
type tickGuide interface {
	Tick(now time.Time) (cue string)
}

// tickEach is how often a tickGuide is asked.
const tickEach = 50 * time.Millisecond

// watchGuide is a pourGuide that also sees the empty pan and the container come to rest.
type watchGuide interface {
	Watch(sim.Shown)
}

// restGuide is a pourGuide that also sees the pour come to rest.
type restGuide interface {
	Rest(sim.Shown)
}

// pourOutcome is what came of a pourTrial.
type pourOutcome struct {
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

// trialStream keeps the numbers of a trial apart from those of its scale: the
// FNV-1a hash of "trial".
const trialStream = 0x2417bba6ec307133

// pourRun is one run of a pourTrial.
type pourRun struct {
	pourTrial
	guide     pourGuide
	scale     *sim.Scale
	vessel    *sim.Vessel
	rng       *rand.Rand
	attention attention
	every     time.Duration // between two lines: the scale's own rate, not in step with the pour
	step      float64
	tare      sim.Shown
	out       pourOutcome

	flow           sim.Flow
	easeAt, stopAt time.Time // when the hand does as it was told; zero: not told
}

// Run pours once.
func (t pourTrial) Run(g pourGuide) (pourOutcome, error) {
	start := time.Unix(0, 0).UTC()
	s, err := sim.NewScale(t.Scale, t.Seed, start)
	if err != nil {
		return pourOutcome{}, err
	}
	if t.Longest == 0 {
		t.Longest = 2 * time.Minute
	}
	if t.Ease == 0 {
		t.Ease = 0.3
	}
	rng := rand.New(rand.NewPCG(t.Seed, trialStream))
	p := &pourRun{pourTrial: t, guide: g, scale: s, vessel: &sim.Vessel{Name: "container", Empty: t.Container}, rng: rng,
		attention: attention{potter: t.Potter, rng: rng}, every: time.Duration(float64(time.Second) / t.Rate), step: s.Step()}
	now := p.place(start)
	now = now.Add(time.Duration(rng.Int64N(int64(p.every))))
	stopped := p.pour(now)
	p.out.Took = stopped.Sub(now)
	p.finish(now, stopped)
	return p.out, nil
}

// restTime is how long this scale needs until all is surely at rest.
func (p *pourRun) restTime() time.Duration { return 4*time.Second + 15*p.Scale.Lag }

// place puts the empty container on, and gives the time at which it rests.
func (p *pourRun) place(start time.Time) time.Time {
	put := start.Add(time.Second)
	rest := put.Add(p.restTime())
	if w, ok := p.guide.(watchGuide); ok {
		for at := start; at.Before(rest); at = at.Add(p.every) {
			if at.After(put) {
				p.scale.Put(put, p.vessel)
			}
			w.Watch(p.scale.At(at))
		}
	}
	p.scale.Put(put, p.vessel)
	p.tare = p.scale.At(rest)
	p.guide.Tared(p.tare)
	return rest
}

// pour lets it run until the hand stops, and gives the time of that.
func (p *pourRun) pour(now time.Time) time.Time {
	rate := p.Flow
	if rate == 0 {
		rate = sim.PourRate(grams(p.Target), p.step, p.Potter, p.Material)
	}
	p.flow = p.Potter.Flow(p.Material, rate, 0)
	p.scale.Pour(now, p.flow)
	ticker, _ := p.guide.(tickGuide)
	end := now.Add(p.Longest)
	knock := now.Add(gap(p.rng, p.Knocks))
	for ; now.Before(end); now = now.Add(p.every) {
		if p.Knocks > 0 && now.After(knock) {
			p.scale.Knock(now, 30*p.step)
			knock = now.Add(gap(p.rng, p.Knocks))
		}
		p.heed(p.guide.Hear(p.scale.At(now)), now)
		next := now.Add(p.every)
		for at := now.Add(tickEach); ticker != nil && at.Before(next); at = at.Add(tickEach) {
			p.heed(ticker.Tick(at), at)
		}
		p.slowDown(next, end)
		if !p.stopAt.IsZero() && p.stopAt.Before(next) {
			now = p.stopAt
			break
		}
	}
	p.scale.Stop(now)
	return now
}

// heed notes when the hand will do what a cue says.
func (p *pourRun) heed(cue string, at time.Time) {
	switch {
	case cue == "ease" && p.easeAt.IsZero():
		p.easeAt = p.attention.acts(at)
	case cue == "stop" && p.stopAt.IsZero():
		p.out.Told, p.out.At = true, p.vessel.Content()
		p.stopAt = p.attention.acts(at)
	}
}

// slowDown eases the flow once, where that is due before the next line.
func (p *pourRun) slowDown(next, end time.Time) {
	if p.easeAt.IsZero() || !p.easeAt.Before(next) || !p.stopAt.IsZero() && !p.easeAt.Before(p.stopAt) {
		return
	}
	slow := p.flow
	slow.Rate, slow.Lumps = p.flow.Rate*p.Ease, p.flow.Lumps*p.Ease
	p.scale.Pour(p.easeAt, slow)
	p.easeAt = end // once
}

// finish waits for rest, and judges and mends what was poured.
func (p *pourRun) finish(began, stopped time.Time) {
	rest := stopped.Add(p.restTime())
	rester, _ := p.guide.(restGuide)
	var d display
	var stands time.Duration // after the stop of the hand
	for at := stopped; at.Before(rest); at = at.Add(p.every) {
		sh := p.scale.At(at)
		if rester != nil {
			rester.Rest(sh)
		}
		if d = append(d, sh); stands == 0 && d.stood(p.step) {
			stands = at.Sub(stopped)
		}
	}
	last := p.scale.At(rest)
	p.out.Landed = p.vessel.Content()
	if a, ok := shownMass(last); ok {
		if b, ok := shownMass(p.tare); ok {
			p.out.Shown = a - b
		}
	}
	switch {
	case p.out.Landed < grams(p.Low):
		p.out.Verdict = "under"
	case p.out.Landed > grams(p.High):
		p.out.Verdict = "over"
	default:
		p.out.Verdict = "in"
	}
	p.out.Right, p.out.Spoons = p.mend(p.scale, rest, p.every, p.tare, p.rng, stands)
	if p.out.Right > 0 {
		p.out.Right += stopped.Sub(began)
	}
}

// How a pour is mended. The figures are ours.
const (
	spoonful  = 5.0         // grams: a level teaspoon of powder
	finest    = 2           // steps: nobody aims finer with a spoon
	mostSpoon = 100         // then the potter gives up
	lookTime  = time.Second // a display that stood so long is believed
)

// display collects what a potter sees, to tell when it stands.
type display []sim.Shown

// stood tells that the display has stood within a step for lookTime, up to its last
// line.
func (d display) stood(step float64) bool {
	last := len(d) - 1
	for i := last; i >= 0; i-- {
		if math.Abs(shownGrams(d[i])-shownGrams(d[last])) > 1.5*step {
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
func (t pourTrial) mend(s *sim.Scale, now time.Time, every time.Duration, tare sim.Shown, rng *rand.Rand, after time.Duration) (time.Duration, int) {
	p, step := t.Potter, s.Step()
	for spoons := range mostSpoon {
		in := shownGrams(s.At(now)) - shownGrams(tare)
		if in > grams(t.Low)-step/100 && in < grams(t.High)+step/100 { // grams carry no tenth exactly
			return after, spoons
		}
		missing := grams(t.Target) - in
		amount := max(min(math.Abs(missing), spoonful)*(1+p.Aim*rng.NormFloat64()), finest*step)
		began := now
		if missing < 0 {
			for _, a := range sim.Spooning(now, p, amount) {
				now = a.At
				switch a.Verb {
				case sim.Press:
					s.Press(now, a.Grams)
				case sim.Spoon:
					s.Spoon(now, a.Grams)
				case sim.Release:
					s.Press(now, 0)
				}
			}
		} else {
			now = now.Add(seconds(0.6 / p.Haste)) // to take up a spoon of it
			s.Pour(now, p.Taps(t.Material, amount*p.Haste, amount))
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
	potter sim.Potter
	rng    *rand.Rand
}

func (a attention) acts(now time.Time) time.Time {
	d := a.potter.React(a.rng)
	// Whoever looks away for Lapse at a time and Lapses times a second misses a sign
	// with about that share, and sees it when the rest of the lapse is over.
	if a.rng.Float64() < a.potter.Lapses*a.potter.Lapse {
		d += a.potter.Lapse * a.rng.Float64()
	}
	return now.Add(seconds(d))
}

// byReading is the simplest pourGuide: it says stop when the display shows the low
// mark. It is what a potter has without any help, and the measure for better
// ones.
type byReading struct {
	Low  protocol.Mass
	tare protocol.Mass
}

// Tared notes the empty container.
func (b *byReading) Tared(s sim.Shown) { b.tare, _ = s.Value.Mass(s.Unit) }

// Hear compares the display with the mark.
func (b *byReading) Hear(s sim.Shown) string {
	if m, ok := shownMass(s); ok && m-b.tare >= b.Low {
		return "stop"
	}
	return ""
}

// shownMass is what it shows; false where it shows no weight.
func shownMass(s sim.Shown) (protocol.Mass, bool) {
	if s.Status != protocol.OK {
		return 0, false
	}
	m, err := s.Value.Mass(s.Unit)
	return m, err == nil
}

// shownGrams is what it shows, as a number; 0 where it shows no weight.
func shownGrams(s sim.Shown) float64 {
	m, _ := shownMass(s)
	return grams(m)
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
