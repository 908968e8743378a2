package sim

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"tared/protocol"
)

// Guidance is what a bench tells the person who stands at it: words and numbers
// that are on its page. An Auto knows nothing else of the scales.
type Guidance struct {
	State    string // reminder, container, pour, settle, in, over, lifted, lost, decide, paused, finished
	Material string
	Scale    string
	Target   protocol.Mass // of this portion
	Low      protocol.Mass
	High     protocol.Mass
	Step     protocol.Mass
	In       protocol.Mass // in the container now, where Known
	Known    bool
	Cue      string // ease, stop, in, over, ask, …
	Link     string // of that scale: waiting, up, lost
	Eye      bool   // read by eye: the bench waits for a typed amount
	Asked    string // the question that waits for a word; empty: none
	Answers  []Answer
}

// Answer is one word that the bench would take.
type Answer struct {
	Word  string
	Needs string // name, mass, text or nothing
}

func (g Guidance) same(o Guidance) bool {
	return slices.Equal(g.Answers, o.Answers) && g.State == o.State && g.Material == o.Material && g.Scale == o.Scale &&
		g.Target == o.Target && g.Low == o.Low && g.High == o.High && g.Step == o.Step && g.In == o.In && g.Known == o.Known &&
		g.Cue == o.Cue && g.Link == o.Link && g.Eye == o.Eye && g.Asked == o.Asked
}

// AutoOptions say who works at the bench and with what.
type AutoOptions struct {
	Seed   uint64
	Potter Potter
	// Material tells how the powder of a name runs and clings; nil: all run freely.
	Material func(name string) Material
	// By is the name to give where the bench wants one.
	By string
	// Prefer is the word to answer a question with, where it is offered; else it is
	// the first offered of those that Truth gives, and else the first that needs nothing
	// but a name.
	Prefer map[string]string
	// Truth gives the words that are true of what the hands know: whether powder is in the
	// container, and whether some was tipped when it was off the pan last. Nil: nobody
	// knows.
	Truth func(asked string, filled, tipped bool) []string
}

// Auto is a potter who mixes a batch by what a bench says. It sees the guidance
// one reaction late and now and then looks away; its hands need their time and
// err. It holds no clock and starts nothing: Step is all.
type Auto struct {
	opt AutoOptions
	rng *rand.Rand

	coming []seen // on its way from eye to hand
	last   Guidance
	first  bool // last is set
	away   time.Time
	lookAt time.Time // when attention was looked at last

	now      Guidance // as perceived
	known    bool     // now is set
	since    time.Time
	plan     []Action
	hands    map[string]*grip
	tips     map[string]int // of a material
	pouring  string         // scale; empty: not pouring
	eased    bool
	flow     Flow
	began    time.Time // when the pour began
	empty    time.Time // when the scoop is empty
	rest     time.Time // nothing is begun before
	asked    string    // question answered last ...
	answered time.Time // ... and when
	done     bool
}

type seen struct {
	due time.Time
	g   Guidance
}

// grip is where the potter knows a vessel to be.
type grip struct {
	on     bool
	tipped bool      // after it was lifted last
	filled bool      // poured into, and not tipped since
	since  time.Time // when it came there
}

// NewAuto makes a potter whose containers are on the shelf.
func NewAuto(o AutoOptions) *Auto {
	if o.Material == nil {
		o.Material = func(name string) Material { m := Free(); m.Name = name; return m }
	}
	if o.Potter.Haste == 0 {
		o.Potter = Steady()
	}
	return &Auto{opt: o, rng: source(o.Seed, "auto"), hands: map[string]*grip{}, tips: map[string]int{}}
}

// Done tells that the potter has seen the batch finished.
func (a *Auto) Done() bool { return a.done }

// Step lets the potter see the bench at a time and gives what the hands do now,
// to be carried out at once. Call it often: every 20 ms of the potter's time.
func (a *Auto) Step(now time.Time, g Guidance) []Action {
	a.look(now, g)
	if a.known && !a.done {
		a.decide(now)
	}
	var due []Action
	for len(a.plan) > 0 && !a.plan[0].At.After(now) {
		due = append(due, a.plan[0])
		a.plan = a.plan[1:]
	}
	for i := range due {
		due[i].At = now
		a.did(now, due[i])
	}
	return due
}

// look lets what the bench shows travel from eye to hand.
func (a *Auto) look(now time.Time, g Guidance) {
	p := a.opt.Potter
	if !a.lookAt.IsZero() && p.Lapses > 0 && now.After(a.away) &&
		a.rng.Float64() < p.Lapses*now.Sub(a.lookAt).Seconds() {
		a.away = now.Add(seconds(p.Lapse * (0.5 + a.rng.Float64())))
	}
	a.lookAt = now
	if !a.first || !g.same(a.last) {
		a.first, a.last = true, g
		due := now.Add(seconds(p.React(a.rng)))
		if n := len(a.coming); n > 0 && due.Before(a.coming[n-1].due) {
			due = a.coming[n-1].due
		}
		a.coming = append(a.coming, seen{due, g})
	}
	if now.Before(a.away) {
		return
	}
	for len(a.coming) > 0 && !a.coming[0].due.After(now) {
		g := a.coming[0].g
		if !a.known || g.State != a.now.State || g.Material != a.now.Material || g.Scale != a.now.Scale {
			a.since = now
		}
		a.now, a.known = g, true
		a.coming = a.coming[1:]
	}
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// did keeps the account of where things are.
func (a *Auto) did(now time.Time, x Action) {
	h := a.grip(x.Scale)
	switch x.Verb {
	case Put:
		h.on, h.since = true, now
	case Lift:
		h.on, h.tipped, h.since = false, false, now
	case Tip:
		h.tipped, h.filled = true, false
		a.tips[a.now.Material]++
	case Pour:
		h.filled = true
	case Stop:
		if a.pouring == x.Scale {
			a.pouring = ""
		}
	}
}

func (a *Auto) grip(scale string) *grip {
	h, ok := a.hands[scale]
	if !ok {
		h = &grip{}
		a.hands[scale] = h
	}
	return h
}

// later puts a move into the plan, so many seconds after the one before (or
// after now).
func (a *Auto) later(now time.Time, after float64, x Action) {
	if n := len(a.plan); n > 0 {
		now = a.plan[n-1].At
	}
	x.At = now.Add(seconds(after * (0.85 + 0.3*a.rng.Float64()) / a.opt.Potter.Haste))
	if x.Scale == "" {
		x.Scale = a.now.Scale
	}
	a.plan = append(a.plan, x)
	a.rest = x.At
}

// pause begins nothing new for so many seconds after the plan.
func (a *Auto) pause(now time.Time, s float64) {
	if n := len(a.plan); n > 0 {
		now = a.plan[n-1].At
	}
	a.rest = now.Add(seconds(s))
}

// patience is how often a potter tips one material before giving up on what is
// still missing of it.
const patience = 12

// unheard reports whether the scale is not heard though the bench does not call it
// lost yet.
func (g Guidance) unheard() bool {
	return (g.Link == "waiting" || g.Link == "lost") && g.State != "lost"
}

// decide looks at what is perceived and plans the next moves.
func (a *Auto) decide(now time.Time) {
	g := a.now
	if a.pouring != "" {
		a.pour(now, g)
		return
	}
	if len(a.plan) > 0 || now.Before(a.rest) {
		return
	}
	p := a.opt.Potter
	h := a.grip(g.Scale)
	waited := now.Sub(a.since)
	// Only what the hands did themselves can be expected to have been seen.
	longStood := waited > 16*time.Second && now.Sub(h.since) > 16*time.Second
	if g.State == "finished" {
		a.done = true
		return
	}
	if g.Asked != "" {
		a.answer(now, g)
		return
	}
	if g.Scale == "" {
		return
	}
	if g.unheard() && waited > 6*time.Second {
		a.later(now, p.Handle, Action{Verb: Mend})
		a.pause(now, 6)
		return
	}
	if a.tips[g.Material] > patience && g.State != "lifted" {
		// It does not get there, for instance because that little clings.
		a.tips[g.Material] = 0
		a.later(now, p.Think, Action{Verb: Say, Word: "skip"})
		a.pause(now, 1)
		return
	}
	switch g.State {
	case "container":
		a.place(now, h, longStood)
	case "pour", "settle":
		a.fill(now, g, h, waited)
	case "in":
		if h.on {
			a.later(now, 0.7, Action{Verb: Lift})
			a.pause(now, 0.5)
		}
	case "over":
		a.over(now, g)
	case "lifted":
		a.bring(now, g, h, longStood)
	case "lost":
		a.findAgain(now, g, h, waited)
	}
}

// place puts an empty container on the pan.
func (a *Auto) place(now time.Time, h *grip, longStood bool) {
	handle := a.opt.Potter.Handle
	switch {
	case !h.on:
		a.later(now, handle, Action{Verb: Put})
	case longStood:
		// It stands there and the bench does not see it: lift it and try again.
		a.later(now, handle, Action{Verb: Lift})
		a.later(now, 2*handle+1.5, Action{Verb: Put})
	}
	a.pause(now, 1.5)
}

// fill begins to pour where something is missing.
func (a *Auto) fill(now time.Time, g Guidance, h *grip, waited time.Duration) {
	if !h.on {
		// Just lifted: the bench has not understood yet. Else it is to stand there.
		if h.since.IsZero() || now.Sub(h.since) > 5*time.Second {
			a.later(now, a.opt.Potter.Handle, Action{Verb: Put})
			a.pause(now, 1.5)
		}
		return
	}
	// Where the bench wants rest it gets it; after ten seconds of that, somebody
	// who sees that it is too little pours on.
	if g.State == "settle" && waited < 10*time.Second || g.Eye || !g.Known || g.In >= g.Low {
		return
	}
	a.begin(now, g)
}

// bring tips what was lifted, and puts the container back.
func (a *Auto) bring(now time.Time, g Guidance, h *grip, longStood bool) {
	handle := a.opt.Potter.Handle
	switch {
	case h.on && longStood:
		a.later(now, handle, Action{Verb: Lift})
	case h.on:
	case g.Cue == "ask" || h.tipped:
		// Not taken yet, or nothing left in it: back to where it was.
		a.later(now, handle, Action{Verb: Put})
		a.pause(now, 1.5)
	default:
		a.later(now, 1.2*handle, Action{Verb: Tip, Grams: cling(a.rng, a.opt.Material(g.Material))})
		a.later(now, 1.5*handle, Action{Verb: Put})
		a.pause(now, 1.5)
	}
}

// findAgain does what a scale that was lost needs.
func (a *Auto) findAgain(now time.Time, g Guidance, h *grip, waited time.Duration) {
	p := a.opt.Potter
	switch {
	case g.Link == "up" && h.on:
		// It was away and asks for the container to be lifted and put back.
		a.later(now, p.Handle, Action{Verb: Lift})
		a.later(now, 7*p.Haste+p.Handle, Action{Verb: Put}) // a scale rests no sooner for a hurried hand
		a.pause(now, 5)
	case g.Link == "up":
		a.later(now, p.Handle, Action{Verb: Put})
		a.pause(now, 5)
	case waited > 4*time.Second:
		a.later(now, p.Handle, Action{Verb: Mend})
		a.pause(now, 6)
	}
}

// choose picks an answer.
func (a *Auto) choose(g Guidance) (Answer, bool) {
	want := []string{a.opt.Prefer[g.Asked]}
	if h := a.grip(g.Scale); a.opt.Truth != nil {
		want = append(want, a.opt.Truth(g.Asked, h.filled, h.tipped)...)
	}
	for _, word := range want {
		if i := slices.IndexFunc(g.Answers, func(x Answer) bool { return x.Word == word }); i >= 0 {
			return g.Answers[i], true
		}
	}
	if i := slices.IndexFunc(g.Answers, func(x Answer) bool { return x.Needs == "" || x.Needs == "name" }); i >= 0 {
		return g.Answers[i], true
	}
	return Answer{}, false
}

// answer says a word to a question, once, and again when it goes on being asked.
func (a *Auto) answer(now time.Time, g Guidance) {
	key := g.State + " " + g.Asked + " " + g.Material
	if key == a.asked && now.Sub(a.answered) < 8*time.Second {
		return
	}
	x, ok := a.choose(g)
	if !ok {
		return
	}
	word := x.Word
	if x.Needs == "name" {
		word += " " + a.opt.By
	}
	a.later(now, a.opt.Potter.Think, Action{Verb: Say, Word: word})
	a.asked, a.answered = key, a.rest
	a.pause(now, 0.3)
}

// begin starts to pour: a scoop that should nearly do, then less, then taps.
func (a *Auto) begin(now time.Time, g Guidance) {
	p, m := a.opt.Potter, a.opt.Material(g.Material)
	m.Name = g.Material
	step := max(gramsOf(g.Step), 1e-6)
	missing := gramsOf(g.Target - g.In)
	// How near the aim it goes depends on how much harm a slip does.
	aim, err := 0.97, p.Aim
	var f Flow
	switch {
	case missing > 60*step:
		aim = 0.9
		amount := missing * max(0.3, aim+err*a.rng.NormFloat64())
		f = p.Flow(m, PourRate(amount, step, p, m), amount)
	case missing > 12*step:
		aim = 0.85
		amount := missing * max(0.3, aim+err*a.rng.NormFloat64())
		f = p.Flow(m, max(amount/3, 3*step)*p.Haste, amount)
	default:
		// From the tip of a spoon: nobody does better than a fifth of a small step.
		amount := max(missing*max(0.3, aim+2*err*a.rng.NormFloat64()), math.Min(step, 0.02)/5)
		f = p.Taps(m, amount/1.5, amount)
	}
	a.flow, a.eased = f, g.Cue == "ease" // whoever starts near the mark starts gently
	a.later(now, 0.4, Action{Verb: Pour, Flow: f})
	a.pouring = g.Scale
	a.began = a.rest
	a.empty = a.began.Add(emptying(f))
}

// emptying is how long a scoop needs to run out, with some to spare.
func emptying(f Flow) time.Duration { return seconds(1.3*f.Left/f.Rate + 0.5) }

// pour watches a pour that runs.
func (a *Auto) pour(now time.Time, g Guidance) {
	if len(a.plan) > 0 { // the scoop is on its way up
		if g.State != "pour" && g.State != "settle" {
			a.plan, a.pouring = nil, ""
			a.pause(now, 0.5)
		}
		return
	}
	stop := g.Scale != a.pouring || g.State != "pour" && g.State != "settle" || g.Cue == "stop" || g.Cue == "in" || g.Cue == "over" ||
		g.Known && g.In >= g.Target // who aims at the low mark ends under it, for some clings to the container
	switch {
	case stop || now.After(a.empty):
		a.plan = append(a.plan, Action{At: now, Scale: a.pouring, Verb: Stop})
		// Look at it come to rest before the next move.
		a.pause(now, 1.2/a.opt.Potter.Haste+0.6)
	case g.Cue == "ease" && !a.eased:
		a.eased = true
		f := a.flow
		f.Left = max(f.Left-now.Sub(a.began).Seconds()*f.Rate, f.Left/20) // about what is still in the scoop
		f.Rate *= 0.3
		f.Lumps *= 0.3
		a.flow = f
		a.plan = append(a.plan, Action{At: now, Scale: a.pouring, Verb: Pour, Flow: f})
		a.began, a.empty = now, now.Add(emptying(f))
	}
}

// over spoons out what is too much.
func (a *Auto) over(now time.Time, g Guidance) {
	if !a.grip(g.Scale).on || !g.Known {
		return
	}
	p := a.opt.Potter
	too := gramsOf(g.In-g.Target) * max(0.3, 1+p.Aim*a.rng.NormFloat64())
	if too <= 0 {
		return
	}
	for _, x := range Spooning(now, p, too) {
		x.Scale = g.Scale
		a.plan = append(a.plan, x)
	}
	a.pause(now, 2.2)
}
