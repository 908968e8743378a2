package sim

import (
	"math"
	"math/rand/v2"
)

// Potter is how a person's hands move. Times are seconds.
type Potter struct {
	Name string
	// Reaction is the usual time from a sign to the hand's movement, Spread its
	// standard deviation. A simple reaction takes 0.16 s to a sound and 0.19 s to a
	// light (Kosinski's review), 0.22 s and, where the sign must be told from
	// others, 0.38 s (Laming 1968); 0.23 s over 1469 people (Woods and others 2015,
	// Front. Hum. Neurosci. 9:131).
	Reaction, Spread float64
	Haste            float64 // how much faster than calm: pours and handling; 1 is calm
	Cut              float64 // how long the hand takes to close
	Jitter           float64 // unsteadiness of a pour, as a share of it, on top of the material's
	Aim              float64 // error of a scoop judged by eye, as a share
	Lapses           float64 // how often attention strays, a second
	Lapse            float64 // for how long
	Lean             float64 // grams that lean on the pan while spooning
	Handle           float64 // to pick a container up or put it down
	Think            float64 // to read a question and answer
}

// The potters of the demo and of studies. The reaction times are within those
// of the sources above; everything else is ours.

// Steady works calmly.
func Steady() Potter {
	return Potter{Name: "steady", Reaction: 0.23, Spread: 0.03, Haste: 1, Cut: 0.06, Jitter: 0.05, Aim: 0.07, Lean: 2, Handle: 0.9, Think: 1.5}
}

// React draws one reaction time; nobody reacts under a tenth of a second.
func (p Potter) React(rng *rand.Rand) float64 {
	return math.Max(0.1, p.Reaction+p.Spread*rng.NormFloat64())
}

// Material is how a powder runs and clings.
type Material struct {
	Name   string
	Rate   float64 // natural run from a tilted jar, grams a second
	Jitter float64 // unsteadiness, as a share
	Corr   float64 // how long a stretch lasts, seconds
	Lumps  float64 // lumps in every 100 g
	Lump   float64 // mean weight of one
	Cling  float64 // grams that stay in a tipped container
}

// The kinds of powder. The figures are ours.

// Free runs like dry sand.
func Free() Material {
	return Material{Name: "free-flowing", Rate: 30, Jitter: 0.08, Corr: 0.3, Cling: 0.05}
}

// Sticky hangs and slips.
func Sticky() Material {
	return Material{Name: "sticky", Rate: 15, Jitter: 0.45, Corr: 0.5, Lumps: 4, Lump: 0.3, Cling: 0.35}
}

// Lumpy falls in pieces.
func Lumpy() Material {
	return Material{Name: "lumps", Rate: 20, Jitter: 0.25, Corr: 0.4, Lumps: 12, Lump: 1.5, Cling: 0.1}
}

// fallHeight is from the lip of the scoop to the heap, in metres.
const fallHeight = 0.15

// Flow is how this potter lets this material run at a rate from a scoop of so
// many grams (0: a jar that does not run out).
func (p Potter) Flow(m Material, rate, scoop float64) Flow {
	return Flow{
		Material: m.Name, Rate: rate, Rise: 0.15 / p.Haste, Cut: p.Cut,
		Jitter: math.Hypot(m.Jitter, p.Jitter), Corr: math.Max(m.Corr, 0.05),
		Lumps: m.Lumps / 100 * rate, Lump: math.Min(m.Lump, rate), Fall: Fall(fallHeight), Left: scoop,
	}
}

// Taps is a flow tapped off a spoon in small amounts.
func (p Potter) Taps(m Material, rate, scoop float64) Flow {
	f := p.Flow(m, rate, scoop)
	f.Taps, f.Lumps = 4*p.Haste, 0
	return f
}
