package sim

import (
	"math"
	"math/rand/v2"
)

// Vessel is a container and what is in it.
type Vessel struct {
	Name  string
	Empty float64 // grams
	in    []part
}

// part is an amount of one material. A slice, not a map: sums must come out the
// same in every run.
type part struct {
	material string
	grams    float64
}

// Content gives the grams in the vessel.
func (v *Vessel) Content() float64 {
	sum := 0.0
	for _, p := range v.in {
		sum += p.grams
	}
	return sum
}

// Of gives the grams of one material in the vessel.
func (v *Vessel) Of(material string) float64 {
	for _, p := range v.in {
		if p.material == material {
			return p.grams
		}
	}
	return 0
}

func (v *Vessel) add(material string, grams float64) {
	for i := range v.in {
		if v.in[i].material == material {
			v.in[i].grams += grams
			return
		}
	}
	v.in = append(v.in, part{material, grams})
}

// pourInto moves all but keep grams to another vessel, in the proportions in
// which they lie.
func (v *Vessel) pourInto(to *Vessel, keep float64) {
	total := v.Content()
	if total <= 0 {
		return
	}
	share := 1 - math.Min(math.Max(keep, 0)/total, 1)
	for i := range v.in {
		to.add(v.in[i].material, v.in[i].grams*share)
		v.in[i].grams *= 1 - share
	}
}

// Flow is how powder runs from a hand. All times are seconds, all weights grams.
type Flow struct {
	Material string
	Rate     float64 // mean grams a second in full run
	Rise     float64 // time constant with which the hand opens
	Cut      float64 // time constant with which it closes: this much of the flow still comes after the stop
	Jitter   float64 // standard deviation of the rate, as a share of it
	Corr     float64 // how long a faster or slower stretch lasts
	Lumps    float64 // lumps a second at the mean rate, on top
	Lump     float64 // mean weight of a lump
	Taps     float64 // taps a second; 0: it runs. Tapping ends sharp, between two taps
	Fall     float64 // time in the air
	Left     float64 // what the scoop holds; 0: it does not run out
}

// Fall gives the time in seconds that powder needs for a drop of h metres: the
// square root of 2h/g with g = 9.81 m/s² (free fall, the air left out).
func Fall(h float64) float64 { return math.Sqrt(2 * h / 9.81) }

// stream is a Flow that runs.
type stream struct {
	Flow
	rate   float64 // where the hand is now
	aim    float64 // where it is going
	wobble float64 // slow change of the rate, standard normal
	given  float64 // grams let go so far
	tap    float64 // seconds to the next tap
	air    []float64
	head   int
	flying float64
}

func newStream(f Flow) *stream {
	n := int(math.Round(f.Fall/tickSeconds)) + 1
	return &stream{Flow: f, aim: f.Rate, air: make([]float64, n)}
}

// turn changes the flow without stopping it: the hand goes from one rate to the
// other, what is in the air stays there.
func (s *stream) turn(f Flow) {
	old := *s
	*s = *newStream(f)
	if len(s.air) != len(old.air) { // keep what flies, in the order in which it lands
		for i := range old.air {
			j := min(i, len(s.air)-1)
			s.air[(s.head+j)%len(s.air)] += old.air[(old.head+i)%len(old.air)]
		}
	} else {
		s.air, s.head = old.air, old.head
	}
	s.flying, s.rate, s.wobble = old.flying, old.rate, old.wobble
}

// step moves by one tick and gives what lands in it. One lands at a time so that
// a lump is a knock and a trickle is not.
func (s *stream) step(rng *rand.Rand) (landed float64) {
	tau := s.Cut
	if s.aim > s.rate {
		tau = s.Rise
	}
	if tau <= 0 {
		s.rate = s.aim
	} else {
		s.rate += (s.aim - s.rate) * (1 - math.Exp(-tickSeconds/tau))
	}
	if s.aim == 0 && s.rate < 0.002*s.Rate {
		s.rate = 0
	}
	if s.Jitter > 0 && s.Corr > 0 {
		k := tickSeconds / s.Corr
		s.wobble += -k*s.wobble + math.Sqrt(2*k)*rng.NormFloat64()
	}
	out := 0.0
	// Lognormal about the mean: never negative, and now and then a rush.
	r := s.rate * math.Exp(s.Jitter*s.wobble-s.Jitter*s.Jitter/2)
	if s.Taps > 0 {
		s.tap -= tickSeconds
		if s.tap <= 0 && s.aim > 0 {
			// A tap lets go what the rate says for its span, a third more or less.
			out = s.aim / s.Taps * math.Exp(0.3*rng.NormFloat64()-0.045)
			s.tap += (1 + 0.15*rng.NormFloat64()) / s.Taps
		}
	} else {
		out = r * tickSeconds
	}
	if s.Lumps > 0 && s.Rate > 0 && rng.Float64() < s.Lumps*tickSeconds*s.rate/s.Rate {
		out += s.Lump * rng.ExpFloat64()
	}
	if s.Left > 0 && s.given+out >= s.Left {
		out = s.Left - s.given
		s.aim, s.rate = 0, 0
	}
	s.given += out
	s.air[s.head] += out
	s.head = (s.head + 1) % len(s.air)
	landed = s.air[s.head]
	s.air[s.head] = 0
	s.flying += out - landed
	return landed
}

// spent tells that nothing more will land.
func (s *stream) spent() bool {
	return s.aim == 0 && s.rate == 0 && s.flying < 1e-12
}
