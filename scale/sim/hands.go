package sim

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"
)

// Order is one wish of a person at a demo's buttons.
type Order struct {
	Scale    string
	Word     string  // see Hands.Do
	Material string  // what is poured; "powder" where empty
	Missing  float64 // grams up to the target, where the bench knows it; it decides how much a scoop holds
}

// Hands does what demo buttons say, with the slips and times of a Potter.
type Hands struct {
	world  *World
	potter Potter
	powder Material
	rng    *rand.Rand
}

// NewHands gives hands that work in a world.
func NewHands(w *World, p Potter, m Material, seed uint64) *Hands {
	return &Hands{world: w, potter: p, powder: m, rng: source(seed, "hands")}
}

// Words lists what Hands.Do knows.
func (h *Hands) Words() []string { return words }

var words = []string{"put", "pour", "pinch", "stop", "spoon-out", "lift", "tip", "tip-and-return", "return",
	"spoon-lay", "spoon-take", "lean", "knock", "draught", "tare-key", "zero-key", "unit-key", "power-key", "unplug", "replug"}

// Do sets hands to work. "put" and "return" put the container on the pan,
// "lift" takes it off, "tip" empties it into the bucket, "tip-and-return" does all
// three. "pour" pours a scoop about as large as what is missing, "pinch" a
// little, "stop" closes the hand. "spoon-out" takes out what is too much (or a
// little). "spoon-lay" and "spoon-take" lay a spoon on the pan and take it away,
// "lean" leans on the pan for two seconds, "knock" hits the bench, "draught"
// opens a door for ten seconds. The others press a key or pull the cable.
func (h *Hands) Do(now time.Time, o Order) error {
	in := func(seconds float64) time.Time { return now.Add(time.Duration(seconds * float64(time.Second))) }
	step := 0.1
	if p := h.world.find(o.Scale); p != nil {
		step = stepIn(p.scale.model.Units[0].Unit, p.scale.model.Units[0].Ranges[0].Step)
	}
	m := h.powder
	if m.Name = o.Material; m.Name == "" {
		m.Name = "powder"
	}
	p := h.potter
	var acts []Action
	switch o.Word {
	case "put", "return":
		acts = []Action{{Verb: Put, At: in(p.Handle / 2)}}
	case "lift":
		acts = []Action{{Verb: Lift, At: now}}
	case "tip":
		acts = []Action{{Verb: Lift, At: now}, {Verb: Tip, At: in(p.Handle), Grams: cling(h.rng, m)}}
	case "tip-and-return":
		acts = []Action{{Verb: Lift, At: now}, {Verb: Tip, At: in(2 * p.Handle), Grams: cling(h.rng, m)}, {Verb: Put, At: in(4 * p.Handle)}}
	case "pour":
		scoop := o.Missing * (0.95 + p.Aim*h.rng.NormFloat64())
		if o.Missing <= 0 {
			scoop = 300 * step
		}
		acts = []Action{{Verb: Pour, At: now, Flow: p.Flow(m, PourRate(scoop, step, p, m), max(scoop, step))}}
	case "pinch":
		amount := 5 * step * (0.6 + 0.8*h.rng.Float64())
		acts = []Action{{Verb: Pour, At: now, Flow: p.Taps(m, amount, amount)}}
	case "stop":
		acts = []Action{{Verb: Stop, At: now}}
	case "spoon-out":
		amount := -o.Missing
		if amount <= 0 {
			amount = 10 * step
		}
		acts = Spooning(now, p, amount*(1+p.Aim*h.rng.NormFloat64()))
	case "spoon-lay":
		acts = []Action{{Verb: Lay, At: now, Word: "spoon", Grams: 24.6}}
	case "spoon-take":
		acts = []Action{{Verb: Take, At: now, Word: "spoon"}}
	case "lean":
		acts = []Action{{Verb: Press, At: now, Grams: 200 * step}, {Verb: Release, At: in(2)}}
	case "knock":
		acts = []Action{{Verb: Knock, At: now, Grams: 300 * step}}
	case "draught":
		acts = []Action{{Verb: Draught, At: now, Grams: 3 * step}, {Verb: Draught, At: in(10)}}
	case "tare-key", "zero-key", "unit-key", "power-key", "unplug", "replug":
		acts = []Action{{Verb: Verb(o.Word), At: now}}
	default:
		return fmt.Errorf("hands do not know %q; they know %s", o.Word, strings.Join(words, ", "))
	}
	for i := range acts {
		acts[i].Scale = o.Scale
	}
	return h.world.Do(acts...)
}

// cling draws what stays behind in a tipped container.
func cling(rng *rand.Rand, m Material) float64 { return m.Cling * (0.5 + rng.Float64()) }

// PourRate is how fast a potter pours an amount: in some five seconds, not
// slower than a scale can follow and not faster than the powder runs.
func PourRate(amount, step float64, p Potter, m Material) float64 {
	return min(max(amount/5, 10*step)*p.Haste, m.Rate)
}

// Spooning digs into the container, leaning on it a little.
func Spooning(now time.Time, p Potter, grams float64) []Action {
	in := func(seconds float64) time.Time {
		return now.Add(time.Duration(seconds / p.Haste * float64(time.Second)))
	}
	return []Action{
		{Verb: Press, At: in(0.6), Grams: p.Lean},
		{Verb: Spoon, At: in(1.2), Grams: grams},
		{Verb: Release, At: in(1.3)},
	}
}
