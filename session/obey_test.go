package session

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/scale/sim"
	"tared/session/question"
)

// obedient are hands that believe every word on the page and know nothing else of the
// bench: they do what it says, to the letter, and answer truthfully. What they know
// besides is what anybody knows who stands there: what they did themselves, which cup
// they hold, and what lies in cup and bucket.
type obedient struct {
	p     *proof
	heard string    // what the page says
	since time.Time // so long
	busy  time.Time // the hands do something until then
	plan  []chore
	share float64 // how much of a portion the first scoop is; 0: 0.5

	pouring string // scale; empty: nothing runs
	empty   time.Time
	scoops  int    // of this portion
	asked   string // the question that was answered last, as it stood

	off              map[string]bool // the cup of this scale is in the hand, not on the pan
	taken            map[string]bool // it was lifted when the page said that this records it
	tipped           map[string]bool // it was tipped since it was lifted last
	lifted, tippedAt time.Time
	again            map[string]int // how often the same was asked of each question
}

// chore is something that the hands do at a time.
type chore struct {
	at time.Time
	do func()
}

const (
	reacts  = 250 * time.Millisecond // from eye to hand
	thinks  = time.Second            // to read a question
	patient = 12 * time.Second       // with a page that says to do what is done
)

func newObedient(p *proof) *obedient {
	return &obedient{p: p, off: map[string]bool{"bench": true, "fine": true}, taken: map[string]bool{}, tipped: map[string]bool{}, again: map[string]int{}}
}

// then plans a chore so long from now.
func (h *obedient) then(after time.Duration, do func()) {
	at := h.p.now.Add(after)
	h.plan = append(h.plan, chore{at, do})
	slices.SortStableFunc(h.plan, func(a, b chore) int { return a.at.Compare(b.at) })
	if at.After(h.busy) {
		h.busy = at
	}
}

// rest does nothing for so long.
func (h *obedient) rest(d time.Duration) {
	if until := h.p.now.Add(d); until.After(h.busy) {
		h.busy = until
	}
}

func (h *obedient) lift(on string) {
	h.p.do(sim.Action{Scale: on, Verb: sim.Lift})
	h.off[on], h.tipped[on], h.taken[on] = true, false, false
}

func (h *obedient) tip(on string) {
	h.p.note("hands: tip %.2f g", h.p.inCup(on))
	h.p.world.TipBut(on, min(h.p.clings, 0.03*h.p.inCup(on)))
	h.tipped[on], h.tippedAt = true, h.p.now
}

func (h *obedient) put(on string) {
	h.p.do(sim.Action{Scale: on, Verb: sim.Put})
	h.off[on] = false
}

// stop closes the hand.
func (h *obedient) stop() {
	if h.pouring != "" {
		h.p.do(sim.Action{Scale: h.pouring, Verb: sim.Stop})
		h.pouring = ""
		h.rest(1200 * time.Millisecond)
	}
}

// pour lets a scoop of so many grams run.
func (h *obedient) pour(on, material string, amount float64) {
	rate := math.Max(amount/4, 0.5)
	h.p.do(sim.Action{Scale: on, Verb: sim.Pour, Flow: sim.Flow{Material: material, Rate: rate, Rise: 0.1, Cut: 0.03, Fall: sim.Fall(0.15), Left: amount}})
	h.pouring, h.empty = on, h.p.now.Add(seconds(amount/rate+0.8))
	h.scoops++
}

// step looks at the page and does what it says.
func (h *obedient) step() {
	for len(h.plan) > 0 && !h.plan[0].at.After(h.p.now) {
		do := h.plan[0].do
		h.plan = h.plan[1:]
		do()
	}
	v := h.p.page()
	n := v.Now
	if missing := keyless(v); missing != "" {
		h.p.blame("%s", missing)
	}
	key := fmt.Sprint(n.State, n.Cue, n.Headline.Code, n.Material, n.Scale)
	if v.Asked != nil {
		key += v.Asked.Question + v.Asked.Says.String()
	}
	if key != h.heard {
		h.heard, h.since = key, h.p.now
	}
	if h.pouring == "" && h.p.now.Before(h.busy) || h.p.now.Sub(h.since) < reacts {
		return
	}
	pour := n.Headline.Code == "bench.pour" || n.Headline.Code == "bench.pour-rest" || n.Headline.Code == "bench.ease"
	if h.pouring != "" {
		if !pour || n.Scale != h.pouring || h.p.now.After(h.empty) {
			h.stop()
		}
		return
	}
	if len(h.plan) > 0 {
		return
	}
	if v.Asked != nil {
		h.answer(v)
		return
	}
	if pour {
		h.fill(n)
		return
	}
	h.obey(n)
}

// obey does what the headline says, where it is not to pour.
func (h *obedient) obey(n NowView) {
	on := n.Scale
	switch n.Headline.Code {
	case "bench.container": // an empty one
		h.scoops = 0
		switch long := h.p.now.Sub(h.since) > patient; {
		case !h.off[on] && !long:
			return
		case !h.off[on]: // it stands there: perhaps it is not seen, or is to be empty
			h.lift(on)
		}
		h.then(time.Second, func() { h.empties(on); h.put(on) })
		h.rest(3 * time.Second)
		h.since = h.p.now // and it is given time
	case "bench.good", "bench.cannot":
		switch {
		case !h.off[on]:
			h.lift(on)
			h.taken[on] = true
			h.lifted = h.p.now
			h.rest(500 * time.Millisecond)
		default:
			h.tipsAsTold(on)
		}
	case "bench.take-out":
		if !h.off[on] {
			h.p.do(sim.Action{Scale: on, Verb: sim.Spoon, Grams: grams(g(n.In) - g(n.Target))})
			h.rest(2 * time.Second)
		}
	case "bench.tip-bucket", "bench.tip-mixing-cup", "bench.tip-tub", "bench.tip-cup":
		if h.tippedAt.After(h.since) { // done: it stands there, or will in a moment
			if h.p.now.Sub(h.tippedAt) > patient {
				h.offAndOn(on)
			}
			return
		}
		if !h.off[on] { // it says so
			h.lift(on)
		}
		h.scoops = 0
		h.then(200*time.Millisecond, func() { h.tip(on) })
		h.then(1400*time.Millisecond, func() { h.put(on) })
		h.rest(2 * time.Second)
	case "bench.too-much", "bench.too-soon":
		switch long := h.p.now.Sub(h.since) > patient; {
		case h.off[on]:
			h.put(on)
			h.rest(2 * time.Second)
		case long:
			h.offAndOn(on)
		}
	case "bench.other": // it says what to do where no cable is swapped
		if h.p.names == nil && h.p.now.Sub(h.since) > thinks {
			h.p.say("same")
		}
	case "bench.check-tare": // off, wait for a steady reading, back
		h.offAndOn(on)
	}
}

// offAndOn takes the cup off, waits, and puts it back.
func (h *obedient) offAndOn(on string) {
	if !h.off[on] {
		h.lift(on)
	}
	h.then(4*time.Second, func() { h.put(on) })
	h.rest(8 * time.Second)
	h.since = h.p.now.Add(8 * time.Second)
}

// tipsAsTold tips what was lifted when the page said that this records it, though the
// page has not said yet to tip it.
func (h *obedient) tipsAsTold(on string) {
	if h.tipped[on] || h.p.now.Sub(h.lifted) < 2500*time.Millisecond {
		return
	}
	h.scoops = 0
	h.tip(on)
	h.then(1200*time.Millisecond, func() { h.put(on) })
	h.rest(3 * time.Second)
}

// empties makes the cup in the hand empty: what counts, by what the page said, goes
// into the bucket, and all else away.
func (h *obedient) empties(on string) {
	switch {
	case h.p.inCup(on) <= 0.5:
	case h.taken[on]:
		h.tip(on)
	default:
		h.p.note("hands: %.1f g into the waste, for an empty cup is asked for", h.p.inCup(on))
		h.p.world.Clear(on)
	}
}

// fill pours what is missing: half of it, most of the rest, and then the rest.
func (h *obedient) fill(n NowView) {
	if h.off[n.Scale] { // it can only be poured into what stands there
		if h.taken[n.Scale] && !h.tipped[n.Scale] {
			h.tipsAsTold(n.Scale)
			return
		}
		h.put(n.Scale)
		h.rest(2 * time.Second)
		return
	}
	if n.In == "" {
		return
	}
	missing := grams(g(n.Target) - g(n.In))
	if missing < grams(g(n.Step))/2 {
		return
	}
	share := 1.0
	switch {
	case h.scoops == 0 && h.share > 0:
		share = h.share
	case h.scoops == 0:
		share = 0.5
	case h.scoops == 1:
		share = 0.9
	}
	h.pour(n.Scale, n.Material, missing*share)
}

// answer says what is true. Where no answer that is offered is true, that is held
// against the bench, and the first one is said.
func (h *obedient) answer(v View) {
	asked := v.Asked.Question + " " + v.Asked.Says.String()
	if h.p.now.Sub(h.since) < thinks || asked == h.asked && h.p.now.Sub(h.busy) < 8*time.Second {
		return
	}
	h.asked = asked
	if h.again[asked]++; h.again[asked] == 4 {
		h.p.blame("asks again and again: %s", v.Asked.Says)
	}
	h.busy = h.p.now
	last := []string{question.Typed, "not-known"} // where nothing else is true
	for _, late := range []bool{false, true} {
		for _, a := range v.Asked.Answers {
			if rest, ok := h.true(v, a); ok && late == slices.Contains(last, a.Word) {
				h.p.say(a.Word + rest)
				return
			}
		}
	}
	var words []string
	for _, a := range v.Asked.Answers {
		words = append(words, a.Word+" ("+a.Label.String()+")")
	}
	h.p.blame("no answer to %q is true: %v", v.Asked.Says, words)
	h.p.say(v.Asked.Answers[0].Word)
}

// near reports whether a number told about is the true one, as far as the scale shows it.
func near(told, really, step float64) bool {
	return math.Abs(told-really) <= 4*step+0.03*math.Abs(really)
}

// true reports whether an answer is true, and what to say behind its word.
func (h *obedient) true(v View, a AnswerView) (rest string, ok bool) {
	p, q := h.p, v.Asked.Question
	on, material := v.Now.Scale, v.Now.Material
	if p.s.asked.Question != nil && p.s.asked.Scale != "" {
		on = p.s.asked.Scale // it is in the words of the question
	}
	went := p.unrecorded(v, material)
	amount := grams(p.s.asked.Before - p.s.asked.After) // the same
	in, same := p.inCup(on), p.cup[on] == p.tared[on]
	step := grams(p.s.pan(on).Step())
	near := func(told, really float64) bool { return near(told, really, step) }
	little := 4 * step
	none, back, away := went < little, !h.off[on], p.world.Waste() > little
	if want, ok := p.prefer[q]; ok {
		return "", a.Word == want
	}
	switch {
	case a.Word == "not-known":
		return "", true
	case a.Word == question.Typed:
		return fmt.Sprintf(" %.*fg", p.s.pan(on).Step().Places(), went), !none
	}
	switch q + " " + a.Word {
	case "reminder yes":
		return " Mara", true
	case "confirm yes":
		return " Ines", true
	case "said yes", "said no": // what was answered
		word, behind, _ := strings.Cut(p.s.behind, " ")
		if word == question.Typed {
			ok = near(grams(g(strings.TrimSuffix(behind, "g"))), went)
		} else {
			v.Asked = &AskedView{Question: p.s.asked.Key}
			_, ok = h.true(v, AnswerView{Word: word})
		}
		return "", ok == (a.Word == question.Yes)
	case "same yes":
		return "", p.names == nil
	case "same no":
		return "", p.names != nil
	case "paused resume", "mix yes", "overpour keep", "skip no", "undo no", "done no": // nobody meant it
		return "", true
	case "tare keep": // same, nothing tipped, not set to zero: count what it shows
		return "", same && none && near(grams(p.s.pan(on).Content()), in)
	case "tare again": // empty, and none of the last pour went in
		return "", in < little && none
	case "tare done":
		return "", in < little && near(grams(p.s.asked.Before-p.s.pan(on).Vessel().Base), went)
	case "gone keep", "little keep", "lighter keep":
		return "", near(amount, went) && !none && (q != "lighter" || same)
	case "gone again": // it was taken out
		return "", none && away
	case "little again":
		return "", none
	case "lighter again":
		return "", !same || none
	case "swapped keep":
		return "", back && same && !none && near(amount, went)
	case "swapped again":
		return "", back && !same && in < little
	case "heavier keep":
		return "", back && same && none
	case "heavier again":
		return "", back && !same && in < little && !none
	case "partly keep":
		return "", back && same && near(grams(p.s.pan(on).Content()), in)
	case "partly again":
		return "", back && !same && in < little
	case "thing again":
		return "", p.thing
	case "thing keep":
		return "", !p.thing && away
	case "crept keep":
		return "", near(grams(p.s.asked.After), in)
	case "crept again", "which again", "early again":
		return "", in < little || p.world.Holds(on, material) < little
	case "which keep", "early keep":
		return "", p.world.Holds(on, material) > little
	case "unsettled keep": // about so much
		return "", !none && math.Abs(amount-went) < math.Max(50*step, went/10)
	case "strayed keep":
		return "", !none && near(amount, went)
	case "unsettled again", "strayed again":
		return "", none
	}
	return "", false
}

// inCup is what lies in the cup of a scale, wherever that is.
func (p *proof) inCup(on string) float64 {
	in, _ := p.world.Inside(on)
	return in
}

// unrecorded is what went into the bucket of a material and does not stand on the page.
func (p *proof) unrecorded(v View, material string) float64 {
	went := p.world.Bucket(material)
	if i := slices.IndexFunc(v.Batch.Steps, func(s StepView) bool { return s.Material == material }); i >= 0 {
		went -= grams(g(v.Batch.Steps[i].Delivered))
	}
	return went
}

// worth is half of what the record itself admits of a portion, or a step.
func worth(step, u protocol.Mass) float64 { return math.Max(2*grams(step), 2*grams(u)) }
