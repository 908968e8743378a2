package session

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"tared/protocol"
	"tared/scale/sim"
	"tared/session/fact"
)

// proof is a batch that is mixed by obedient hands, with the truth beside it: what is
// really in the bucket, by material. At the end the bucket is held against the record.
type proof struct {
	*truth
	hands  *obedient
	disk   *unlucky // where the bench writes to a disk that fails; nil: no disk
	clings float64  // grams that stay in a tipped cup
	cup    map[string]int
	tared  map[string]int // the cup that stood there when the bench tared it
	prefer map[string]string
	thing  bool // a thing that lay on the pan was taken away

	deaf  map[string]time.Time // until then no line of this scale comes
	held  map[string]hold      // its display is held
	moves map[string]time.Time // until then it calls itself moving
	lean  map[string]func() protocol.Decimal
	finer map[string]bool // its menu was set to show one more digit

	view    View // that of so many turns
	shownAt int

	stage   int
	stageAt time.Time
	good    string          // the material of which it was said that it is in the band
	more    map[string]bool // those of which more was asked after that
	blames  []string
	looked  uint64
}

type hold struct {
	until time.Time
	sh    sim.Shown
}

// scene is a batch in which something goes wrong.
type scene struct {
	name  string
	no    int // of the fault that it is of, see faults
	lines []fact.Line
	model func(sim.Model) sim.Model
	bare  bool    // the lines do not say net or gross
	rate  float64 // lines a second; 0: 10
	disk  bool    // the bench writes to a disk
	begin func(p *proof)
	acts  []act // one after another
	// still looks at each page.
	still func(p *proof, v View)
	after func(p *proof) // the end, before bucket and record are compared
}

// act happens once, when its time has come.
type act struct {
	when func(p *proof) bool
	do   func(p *proof)
}

func twoMaterials() []fact.Line {
	return []fact.Line{line("Whiting", "base", "60.0", "0.6", "bench"), line("Quartz", "base", "24.0", "0.3", "bench")}
}

func newProof(sc scene, seed uint64, t testing.TB) *proof {
	lines := sc.lines
	if lines == nil {
		lines = twoMaterials()
	}
	model := sim.Quiet
	if sc.model != nil {
		model = func(m sim.Model) sim.Model { return sc.model(sim.Quiet(m)) }
	}
	tb := trouble{lines: lines, model: model, bare: sc.bare}
	p := &proof{cup: map[string]int{}, tared: map[string]int{}, prefer: map[string]string{}, deaf: map[string]time.Time{}, held: map[string]hold{},
		moves: map[string]time.Time{}, lean: map[string]func() protocol.Decimal{}, finer: map[string]bool{}, more: map[string]bool{}, clings: 0.05}
	if sc.disk {
		p.disk = newUnlucky(t, seed, tb)
		p.disk.lit = 0
		p.truth = p.disk.truth
	} else {
		p.truth = newTruth(t, seed, tb)
	}
	p.lying = p.line
	for _, n := range p.world.Names() {
		p.every[n] = time.Second / 10
		if sc.rate > 0 {
			p.every[n] = time.Duration(float64(time.Second) / sc.rate)
		}
		p.world.Exchange(n, map[string]float64{"bench": 118.4, "fine": 12.5}[n])
	}
	p.hands = newObedient(p)
	if sc.begin != nil {
		sc.begin(p)
	}
	return p
}

// line is what a scale says in place of what it shows.
func (p *proof) line(on string, sh sim.Shown) sim.Shown {
	if h, ok := p.held[on]; ok {
		if h.sh.Unit == "" {
			h.sh = sh
			p.held[on] = h
		}
		if p.now.Before(h.until) {
			sh = h.sh
		} else {
			delete(p.held, on)
		}
	}
	if p.now.Before(p.moves[on]) {
		sh.Stable = false
	}
	if by := p.lean[on]; by != nil {
		sh.Value = by()
	}
	if p.finer[on] {
		sh.Value.Coef, sh.Value.Places = sh.Value.Coef*10, sh.Value.Places+1 // the step is as it was
	}
	if p.now.Before(p.deaf[on]) {
		sh.Silent = true
	}
	return sh
}

// page is what the hands see.
func (p *proof) page() View {
	if p.turns != p.shownAt {
		p.shownAt = p.turns
		if p.disk != nil {
			p.view = *p.disk.b.view()
		} else {
			p.view = *p.s.View()
		}
	}
	return p.view
}

// blame holds something against the bench, once.
func (p *proof) blame(format string, args ...any) {
	said := fmt.Sprintf(format, args...)
	if !slices.Contains(p.blames, said) {
		p.note("BLAME %s", said)
		p.blames = append(p.blames, said)
	}
}

// exchange takes another empty cup into the hand.
func (p *proof) exchange(on string, empty float64) {
	p.note("hands: another cup, of %.1f g", empty)
	p.world.Exchange(on, empty)
	p.cup[on]++
}

// look keeps what is known of the cups, and looks at the page.
func (p *proof) look(sc scene) {
	for ; int(p.looked) < len(p.facts); p.looked++ {
		switch v := p.facts[p.looked].Body.(type) {
		case fact.Tared:
			if !p.hands.off[v.Scale] {
				p.tared[v.Scale] = p.cup[v.Scale]
			}
		case fact.Finished:
			p.note("finished")
		}
	}
	v := p.page().Shown()
	n := v.Now
	if tip := n.Show.Word.Code == "show.tip"; n.State == "lifted" && tip != strings.HasPrefix(n.Headline.Code, "bench.tip") {
		p.blame("the large word says %q and the sentence %q", n.Show.Word, n.Headline)
	}
	switch {
	case n.State == "in":
		p.good = n.Material
	case n.Headline.Code == "bench.pour-rest" && p.good == n.Material:
		p.more[n.Material] = true
	}
	if sc.still != nil {
		sc.still(p, v)
	}
}

const tick = 10 * time.Millisecond

// run mixes the batch to its end, or for so long.
func (p *proof) run(sc scene, longest time.Duration) {
	for i := 0; i < int(longest/tick); i++ {
		p.pass(i, tick)
		if i%2 == 0 {
			p.hands.step()
		}
		if i%5 == 0 {
			p.look(sc)
			if p.stage < len(sc.acts) && sc.acts[p.stage].when(p) {
				p.note("--- act %d", p.stage+1)
				do := sc.acts[p.stage].do
				p.stage, p.stageAt = p.stage+1, p.now
				do(p)
			}
		}
		if p.s.Batch.Finished {
			break
		}
	}
	if p.stage < len(sc.acts) {
		p.blame("the scene did not come to its act %d", p.stage+1)
	}
	if sc.after != nil {
		sc.after(p)
	}
	if !p.s.Batch.Finished {
		v := p.page()
		asked := ""
		if v.Asked != nil {
			asked = ", asked: " + v.Asked.Says.String()
		}
		p.blame("no end: %q%s", v.Now.Headline, asked)
	}
	p.compare()
}

// compare holds the bucket against the record, material by material.
func (p *proof) compare() {
	allowed, step, unknown := map[string]float64{}, map[string]float64{}, map[string]bool{}
	for _, f := range p.facts {
		if v, ok := f.Body.(fact.Portion); ok {
			step[v.Material] = max(step[v.Material], grams(v.Step))
			allowed[v.Material] += worth(v.Step, v.U)
			if v.How == "not-returned" {
				allowed[v.Material] += 0.5 // what clings is not seen
			}
			unknown[v.Material] = unknown[v.Material] || v.How == "not-known"
		}
	}
	for _, st := range p.s.Batch.Steps {
		in, says := p.world.Bucket(st.Material), grams(st.Delivered)
		if math.Abs(in-says) > allowed[st.Material]+1.5*step[st.Material] && !unknown[st.Material] {
			p.blame("%s: %.2f g in the bucket, %.2f g in the record (±%.2f)", st.Material, in, says, allowed[st.Material]/2)
		}
	}
}

// --- when

// half reports whether a material is half poured and rests.
func half(material string) func(p *proof) bool {
	return func(p *proof) bool {
		n := p.page().Now
		return n.Material == material && n.Settled && p.hands.pouring == "" && p.hands.scoops == 1 && n.State == "pour" && p.inCup(n.Scale) > 1
	}
}

// running reports whether a material runs, and some share of it is there.
func runs(material string, share float64) func(p *proof) bool {
	return func(p *proof) bool {
		n := p.page().Now
		return n.Material == material && p.hands.pouring != "" && p.inCup(n.Scale) >= share*grams(g(n.Target))
	}
}

func shows(state, material string) func(p *proof) bool {
	return func(p *proof) bool {
		n := p.page().Now
		return n.State == state && n.Material == material && p.now.Sub(n.Since) > 100*time.Millisecond
	}
}

func later(d time.Duration) func(p *proof) bool {
	return func(p *proof) bool { return p.now.Sub(p.stageAt) >= d }
}

func both(a, b func(p *proof) bool) func(p *proof) bool {
	return func(p *proof) bool { return a(p) && b(p) }
}

// justSpoke reports whether a line came just now.
func justSpoke(on string) func(p *proof) bool {
	return func(p *proof) bool { return p.now.Sub(p.heard[on]) <= 50*time.Millisecond }
}

// --- what

// snatch lifts the cup, tips it and puts it back, so fast.
func snatch(on string, within time.Duration) func(p *proof) {
	return func(p *proof) {
		h := p.hands
		h.lift(on)
		h.then(within/3, func() { h.tip(on) })
		h.then(within/2, func() { h.put(on) })
		h.rest(within + time.Second)
		h.scoops = 0
	}
}

// unheard does something while no line comes.
func unheard(on string, d time.Duration, do func(p *proof)) func(p *proof) {
	return func(p *proof) { p.deaf[on] = p.now.Add(d); do(p) }
}

// displayHeld does something while the display is held.
func displayHeld(on string, d time.Duration, do func(p *proof)) func(p *proof) {
	return func(p *proof) { p.held[on] = hold{until: p.now.Add(d)}; do(p) }
}

func press(word string) func(p *proof) { return func(p *proof) { p.say(word) } }

// cableOut pulls the cable of the scale in work for so long.
func cableOut(d time.Duration) func(p *proof) {
	return func(p *proof) {
		on := p.page().Now.Scale
		p.do(sim.Action{Scale: on, Verb: sim.Unplug})
		p.hands.then(d, func() { p.do(sim.Action{Scale: on, Verb: sim.Replug}) })
		p.hands.rest(d)
	}
}

// off kills the program and starts it again after so long. It hears no line before that.
func off(d time.Duration, do func(p *proof)) func(p *proof) {
	return func(p *proof) {
		for _, n := range p.world.Names() {
			p.deaf[n], p.heard[n] = p.now.Add(d), time.Time{}
		}
		p.hands.rest(d + 500*time.Millisecond)
		p.restart()
		if do != nil {
			do(p)
		}
	}
}
