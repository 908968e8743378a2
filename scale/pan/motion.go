package pan

import (
	"math"
	"time"

	"tared/protocol"
)

// Times by which motion is judged. All are common practice with no source; each is
// tried in the tests that name it.
const (
	sharpTime    = time.Second                                  // a container stands on the pan within that, also through a slow filter
	sharpPercent = 40                                           // of its weight; powder that is poured comes slower
	flowTime     = 500 * time.Millisecond                       // over which the flow is judged
	flowLongest  = 2 * time.Second                              // the same for a scale that speaks slowly
	lumpTime     = 300 * time.Millisecond                       // within which a lump comes through a filter, most of it
	lumpsFor     = 2 * time.Second                              // how long it is remembered
	sampleEvery  = 40 * time.Millisecond                        // between two samples
	UsualLag     = 250 * time.Millisecond                       // of a scale's filter, until it has shown its own
	longestLag   = 2 * time.Second                              // more is no filter
	fastest      = protocol.OnBench / protocol.Microgram / 1000 // micrograms in a millisecond; faster is no pour
	leastForLag  = 300                                          // steps of a container that shows a lag
)

// sample is a gross weight, so long after the first of its motion.
type sample struct {
	at time.Duration
	g  protocol.Mass
}

// motion is how the load moved of late.
type motion struct {
	begin time.Time // of the first sample
	ring  [128]sample
	n     int           // samples ever put in the ring
	burst protocol.Mass // the most that it rose within sharpTime since it left rest
	top   protocol.Mass // the highest since it left rest
	low   protocol.Mass // the lowest since the container was lifted and since it rested then
}

// back gives the sample i before the last.
func (m *motion) back(i int) *sample { return &m.ring[(m.n-1-i)%len(m.ring)] }

func (m *motion) len() int { return min(m.n, len(m.ring)) }

// hear keeps a sample, though not every line of a scale that speaks often.
func (m *motion) hear(at time.Time, g protocol.Mass) {
	if m.n == 0 {
		m.begin = at
	}
	if now := at.Sub(m.begin); m.n == 0 || now-m.back(0).at >= sampleEvery {
		m.ring[m.n%len(m.ring)] = sample{now, g}
		m.n++
	}
}

// climb keeps how much the load rose within sharpTime, or from one line to the next
// where the lines come slower.
func (m *motion) climb(at time.Time, gross, before protocol.Mass) {
	m.top, m.low = max(m.top, gross), min(m.low, gross)
	low, now := min(gross, before), at.Sub(m.begin)
	for i := range m.len() {
		s := m.back(i)
		if now-s.at > sharpTime {
			break
		}
		low = min(low, s.g)
	}
	m.burst = max(m.burst, gross-low)
}

// peak is the highest of the last samples and base: the best that is known of a
// load that was lifted before it came to rest.
func (m *motion) peak(base protocol.Mass) protocol.Mass {
	for i := range m.len() {
		base = max(base, m.back(i).g)
	}
	return base
}

// lingers reports whether the load went through a range, since a time, in as many steps
// and as slowly as no lift does. A display that is held there goes nowhere.
func (m *motion) lingers(since time.Time, low, high protocol.Mass) bool {
	var first, last sample
	places, from := 0, since.Sub(m.begin)
	for i := range m.len() {
		s := *m.back(i)
		if s.at <= from {
			break
		}
		if s.g <= low || s.g >= high {
			continue
		}
		if places == 0 {
			last = s
		}
		if places == 0 || s.g != first.g {
			places++
		}
		first = s
	}
	return places > 2 && last.at-first.at > flowTime
}

// flow is the slope of the last moments in a second; 0 when unknown. It is the line
// of least squares through half a second of samples, through more where they come
// slowly: one tap or one step of the display then moves it little, and an eased pour
// is seen soon.
func (m *motion) flow() protocol.Mass {
	n := m.len()
	if n < 3 {
		return 0
	}
	last := m.back(0)
	k := 1
	for k < n && (k < 3 || last.at-m.back(k).at <= flowTime) && last.at-m.back(k).at <= flowLongest {
		k++
	}
	// Times in milliseconds before the last, micrograms less the last: the sums stay
	// small, for there are few samples and a tonne at most. Σ(t-t̄)(m-m̄) / Σ(t-t̄)².
	var st, sg, stt, stg int64
	for i := range k {
		s := m.back(i)
		t, g := (s.at - last.at).Milliseconds(), int64((s.g-last.g)/protocol.Microgram)
		st, sg, stt, stg = st+t, sg+g, stt+t*t, stg+t*g
	}
	d := int64(k)*stt - st*st
	if k < 2 || d <= 0 {
		return 0
	}
	perMS := protocol.Mass((int64(k)*stg - st*sg) / d)
	return max(-fastest, min(perMS, fastest)) * 1000 * protocol.Microgram
}

// rise gives what came in the lumpTime that ends with sample i, and with which
// sample it began; -1 where the samples do not reach back so far.
func (m *motion) rise(i int) (protocol.Mass, int) {
	for j := i + 1; i >= 0 && j < m.len(); j++ {
		if m.back(i).at-m.back(j).at >= lumpTime {
			return m.back(i).g - m.back(j).g, j
		}
	}
	return 0, -1
}

// lump is how much more than its share came at once of late: the largest rise
// within lumpTime over those just before and just after it. Powder that runs evenly
// has none, also when it is eased; of powder that falls in lumps it is about one.
func (m *motion) lump() (most protocol.Mass) {
	next, i := m.rise(0)
	for i >= 0 && m.back(0).at-m.back(i).at <= lumpsFor {
		here, j := m.rise(i)
		before, k := m.rise(j)
		if k < 0 {
			break
		}
		most = max(most, here-max(before, next))
		next, i = here, j
	}
	return most
}

// every is the time between two lines, as the last second shows it.
func (m *motion) every() time.Duration {
	n := min(m.len(), 8)
	if n < 2 {
		return 0
	}
	return min((m.back(0).at-m.back(n-1).at)/time.Duration(n-1), flowLongest)
}

// lag reads the time constant of the scale's filter off a container of this weight
// that has just come to rest; 0 when it cannot be read. From 90 % of its weight on
// the hand has let go and the filter alone goes on: what is still missing falls by a
// factor e in each time constant.
func (m *motion) lag(weight, step protocol.Mass) time.Duration {
	if weight < leastForLag*step {
		return 0
	}
	var from, to sample
	for i := range m.len() { // back to where the hand was there; before that it may have been lifted
		s := m.back(i)
		missing := weight - s.g
		if missing > weight/10 {
			break
		}
		if missing < 10*step {
			continue // too near to be read
		}
		if from = (sample{s.at, missing}); to.g == 0 {
			to = from
		}
	}
	if from.g == 0 || to.g*2 > from.g {
		return 0
	}
	// A time is no weight, so floats may do.
	tau := (to.at - from.at).Seconds() / math.Log(float64(from.g)/float64(to.g))
	return min(time.Duration(tau*float64(time.Second)), longestLag)
}
