package scale

import (
	"time"

	"tared/protocol"
)

// The times by which rest is judged.
const (
	// DefaultWindow is the time over which the weight must hold: one second, the
	// default of a published transmitter (EM100-F manual p. 37: NR 1, NT 1000 ms).
	DefaultWindow = time.Second
	// lookback and breakOff are counted in windows: how far back a trend is looked
	// for, and how long a silence ends the history.
	lookback = 2
	breakOff = 3
	// lateLines is how many times the usual time between two lines may pass before
	// the next is taken for one that was read late: the computer was busy, and what
	// the scale said meanwhile comes in a heap, each line with the time of its
	// reading.
	lateLines = 3
	// sameTime joins lines that came in one burst: they tell of one moment only.
	sameTime = 5 * time.Millisecond
	// fewReadings is the least that can show rest where three come in a window; a
	// slower scale needs two that lie a window apart.
	fewReadings = 3
)

// slots holds the lookback at one slot for every sameTime, which no line of a
// bench scale outruns (115200 baud carries some 600 lines of 18 bytes a second,
// and those are joined).
const slots = 512

// moment is what the scale said at one time: all lines of one burst together.
type moment struct {
	at     time.Time
	lo, hi protocol.Mass // extremes within the burst
	last   protocol.Mass
}

// Settler judges rest: the scale's own flag where there is one, and our window.
//
// The window holds when the readings of one second spread over at most one step
// of the scale and show no trend. A value that flickers between two neighbours
// is at rest. Single steps that go one way are a trend, so that a slow trickle
// of powder is not taken for rest; for these the last two seconds count.
//
// Lines of one burst count as one reading, so a stack of old lines that a buffer
// hands over at once settles nothing; neither does a repeated reading before it
// has held for the whole window. A silence of three windows ends the history, and
// of a scale that speaks often already one that is much longer than usual.
//
// The zero value is ready. Time comes in with the readings; nothing here looks
// at a clock, and Add does not allocate.
type Settler struct {
	// Window is the time over which the weight must hold; zero: DefaultWindow.
	Window time.Duration
	// Print is for a scale that speaks only on its print key or when the weight
	// has changed. Its lines come one at a time, so no window can be judged, and
	// the line itself is the word of rest: one that the scale flags as stable, and
	// one without a flag that comes after a window of silence, for then a person
	// pressed the key with the display before their eyes. A line flagged as moving
	// never is.
	Print bool

	ring  [slots]moment
	first int // oldest
	n     int
	step  protocol.Mass
	shown protocol.Mass // step of the last reading
	usual time.Duration // between two lines; 0: not known yet
	late  bool          // the last line came so long after the one before
}

// Late tells that the line of the last Add came after a silence much longer than
// this scale's usual: the computer was busy, or lines were lost. It may be old, and
// what happened since the line before it was not seen.
func (s *Settler) Late() bool { return s.late }

// Reset forgets all readings: after a gap, an overload, a change of unit. How often
// the scale speaks is not forgotten.
func (s *Settler) Reset() { s.first, s.n, s.step, s.shown = 0, 0, 0, 0 }

// Add takes one weight with its step and tells whether the pan is at rest as of
// this weight. A time before that of the last weight starts the history anew.
func (s *Settler) Add(at time.Time, m, step protocol.Mass, claim protocol.Claim) bool {
	window := s.Window
	if window <= 0 {
		window = DefaultWindow
	}
	silent := s.n == 0
	s.late = false
	if s.n > 0 {
		gap := at.Sub(s.at(s.n - 1).at)
		s.late = s.tooLate(gap, window)
		if gap < 0 || gap > breakOff*window || s.late {
			s.Reset()
		}
		silent = gap >= window
	}
	// Where the range changes the coarser step holds until the window is past it.
	if step != s.shown || s.n == 0 {
		s.step = max(step, s.shown)
		s.shown = step
	}
	s.push(at, m)
	if claim == protocol.No {
		return false
	}
	if s.Print && (claim == protocol.Yes || silent) {
		return true
	}
	return s.holds(at, window)
}

// tooLate tells that a line after so long a silence may be an old one, and learns
// how often the scale speaks. A scale that may be this slow anyway is never late.
func (s *Settler) tooLate(gap, window time.Duration) bool {
	if gap < sameTime || s.Print {
		return false
	}
	late := s.usual > 0 && gap > lateLines*s.usual && gap > window/fewReadings
	if s.usual == 0 {
		s.usual = gap
	}
	s.usual += (min(gap, 2*s.usual) - s.usual) / 8
	return late
}

func (s *Settler) at(i int) *moment { return &s.ring[(s.first+i)%slots] }

func (s *Settler) push(at time.Time, m protocol.Mass) {
	if s.n > 0 {
		if p := s.at(s.n - 1); at.Sub(p.at) < sameTime {
			p.lo, p.hi, p.last = min(p.lo, m), max(p.hi, m), m
			return
		}
	}
	if s.n == slots {
		s.first = (s.first + 1) % slots
		s.n--
	}
	s.n++
	*s.at(s.n - 1) = moment{at, m, m, m}
}

// span tells how the readings moved within some time.
type span struct {
	lo, hi   protocol.Mass
	readings int
	up, down bool // changes seen
	covered  bool // the history reaches back to the beginning of the time
	from     int  // index of the first reading
}

// since walks back over d. The reading that stood when d began belongs to it: its
// last value held into d.
func (s *Settler) since(now time.Time, d time.Duration) span {
	p := s.at(s.n - 1)
	w := span{lo: p.lo, hi: p.hi, readings: 1, from: s.n - 1}
	for {
		if now.Sub(p.at) >= d {
			w.covered = true
			return w
		}
		if w.from == 0 {
			return w
		}
		q := s.at(w.from - 1)
		w.up = w.up || p.last > q.last
		w.down = w.down || p.last < q.last
		if now.Sub(q.at) > d {
			w.lo, w.hi = min(w.lo, q.last), max(w.hi, q.last)
		} else {
			w.lo, w.hi = min(w.lo, q.lo), max(w.hi, q.hi)
		}
		w.readings++
		w.from--
		p = q
	}
}

func (s *Settler) holds(now time.Time, window time.Duration) bool {
	w := s.since(now, window)
	if !w.covered || w.hi-w.lo > s.step {
		return false
	}
	// Two readings are enough only when no third could be expected: they lie a
	// whole window apart.
	if w.readings < fewReadings && (w.readings < 2 || now.Sub(s.at(s.n-2).at) < window/fewReadings) {
		return false
	}
	if w.lo == w.hi {
		// From here on nothing moved for a whole window. A step that has become too
		// coarse is forgotten.
		s.step = s.shown
		return true
	}
	if w.up && w.down && !s.leans(w, now, window) {
		return true // flicker
	}
	back := s.since(now, lookback*window)
	if back.hi-back.lo > s.step {
		return false // single steps, one way
	}
	if back.up && back.down {
		return true // slow flicker
	}
	// One step and no more. Over the whole lookback that is slower than any pour
	// that a one-step error matters to; with less history it may be the first step
	// of a trickle.
	return back.covered
}

// leans tells whether the mean of the later half of the window lies three
// quarters of a step or more from that of the earlier half: a flicker at the
// edge of a step that is being climbed.
func (s *Settler) leans(w span, now time.Time, window time.Duration) bool {
	var early, late, ne, nl int64
	for i := w.from; i < s.n; i++ {
		// Counted from the low end, so that sums stay small.
		if p := s.at(i); now.Sub(p.at) > window/2 {
			early += int64(p.last - w.lo)
			ne++
		} else {
			late += int64(p.last - w.lo)
			nl++
		}
	}
	if ne == 0 || nl == 0 {
		return false
	}
	diff := late/nl - early/ne
	if diff < 0 {
		diff = -diff
	}
	return diff >= int64(s.step)*3/4
}
