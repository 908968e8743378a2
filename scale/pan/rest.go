package pan

import (
	"time"

	"tared/protocol"
	"tared/scale"
)

// Rest is judged here and nowhere else in this package. Whether a reading has
// settled is the word of scale.Settler; what is kept here is where the load last
// rested, whether it rests there still, and what was seen on the way since.

// calmLines is the time between two lines beyond which they cannot show that
// nothing moved between them.
const calmLines = 350 * time.Millisecond

// rest is where the load last rested, and how it left.
type rest struct {
	mass   protocol.Mass // the last settled gross that nothing has contradicted
	raw    string        // its line
	from   protocol.Mass // the mass before it, where that is known
	known  bool          // mass counts
	holds  bool          // the load is still there
	left   time.Time     // when it left; zero: it has not
	rose   bool          // it went up since then
	turned bool          // it stood still since then, or turned
	unseen bool          // it did not leave from a rest that is known
	moved  bool          // a line on the way to another rest came since then
	came   bool          // one came between the last two rests
}

// change is one reading beside the one before it, as gross weights.
type change struct {
	at            time.Time
	gross, before protocol.Mass
	first         bool // nothing usable came before it
	settled       bool
	late          bool // after a silence: what came in it was not seen
	stood         bool // equal lines are more than one conversion said again
	raw           string
}

// hear takes a change into account. still reports whether the load is where it
// rested, and left whether it has just gone from there.
func (r *rest) hear(c change, step protocol.Mass) (still, left bool) {
	away := !r.left.IsZero()
	if c.settled {
		r.unseen = r.unseen || !r.known && !away
		from := c.gross
		if r.known {
			from = r.mass
		}
		*r = rest{mass: c.gross, raw: c.raw, from: from, known: true, holds: true, rose: r.rose, turned: r.turned, unseen: r.unseen, came: r.moved}
		return false, false
	}
	if r.known && !away && (c.gross-r.mass).Abs() <= step {
		return true, false
	}
	if !away {
		r.left, r.rose, r.turned, r.unseen = c.at, r.known && c.gross > r.mass, false, !r.known
	} else if !c.first && c.gross >= c.before {
		r.turned = r.turned || c.gross > c.before || c.stood
		r.rose = r.rose || c.gross > r.mass+step
	}
	r.unseen = r.unseen || c.late
	r.holds = false
	// A line on its way from one rest to another: the one before it had left
	// already, and this one is elsewhere again.
	if (away || !r.known) && !c.first && (c.gross-c.before).Abs() > SameSlack*step {
		r.moved = true
	}
	return false, !away
}

// forget says that the load may be anywhere.
func (r *rest) forget() { r.known, r.holds = false, false }

// sharp reports whether a rise of so much came at once; see Pan.Sharp.
func (r *rest) sharp(rise, burst protocol.Mass) bool {
	return r.unseen || burst >= rise/100*sharpPercent
}

// quickFall reports whether the load left its rest so lately that what was lifted
// is what had rested.
func (r *rest) quickFall(at time.Time) bool {
	limit := liftDown
	if r.rose || r.turned {
		limit = liftMixed
	}
	return r.known && (r.left.IsZero() || at.Sub(r.left) <= limit)
}

// lines is what the lines before the present one showed of the instrument itself.
type lines struct {
	mass   protocol.Mass // last shown
	at     time.Time
	ok     bool          // mass counts
	since  time.Time     // when the scale began to say so
	jumped protocol.Mass // by so much from the one before, if it was far
	repeat time.Duration // how long it says one conversion again and again; 0: not seen
	stable bool          // the last one called itself stable
	calm   bool          // it did, or the last two lines said the same
}

// hear learns whether the scale says each weight some times over, because its
// converter is slower than its line: equal lines with a leap of the same direction
// before and after them. Such lines are not at rest.
func (l *lines) hear(u scale.Update) {
	if !l.ok {
		l.since, l.jumped = u.At, 0
		return
	}
	by := u.Mass - l.mass
	if by == 0 {
		return
	}
	far := by.Abs() >= LeastContainer*max(u.Step, 1)
	onward := by > 0 && l.jumped > 0 || by < 0 && l.jumped < 0
	if ran := u.At.Sub(l.since); far && onward && l.at.After(l.since) && ran <= longestRepeat {
		l.repeat = max(l.repeat, ran)
	}
	if l.since, l.jumped = u.At, 0; far {
		l.jumped = by
	}
}

// stood reports whether equal lines are more than one conversion said again.
func (l *lines) stood(at time.Time) bool { return at.Sub(l.since) >= l.repeat }

// close makes the present line the one before.
func (l *lines) close(u scale.Update) {
	l.stable = u.Reading.Stable == protocol.Yes
	l.calm = l.stable || l.ok && (u.Mass-l.mass).Abs() <= u.Step && l.stood(u.At)
	l.mass, l.ok, l.at = u.Mass, true, u.At
}

// fallen is how long a load must have stood low until it is believed that it fell: a lift
// goes on to the empty pan within that.
const fallen = 700 * time.Millisecond

// believed is how long the most that was in the container counts after it was last seen
// there, and held how long a load must stand to be no hand that leans on the pan.
const (
	believed = 5 * time.Second
	held     = 400 * time.Millisecond
)

// most is the most that was in the container since its pour began, until it is known why
// it is less. The zero value is nothing.
type most struct {
	gross protocol.Mass
	base  protocol.Mass // of that pour
	raw   string        // the line
	sure  bool          // it had settled
	at    time.Time     // when it was last seen there
	stood time.Time     // since when the load is where it is
	fell  time.Time     // since when most of it is gone; zero: it is not
	low   protocol.Mass // where it fell to
}

// hear takes a change into account. r has it already; burst is the most that the load
// rose at once since its last rest.
func (m *most) hear(c change, r *rest, base, burst, near protocol.Mass) {
	if m.base != base {
		*m = most{base: base, gross: base}
	}
	if c.first || (c.gross-c.before).Abs() > near {
		m.stood = c.at
	}
	from := r.mass
	if c.settled {
		from = r.from
	}
	stands := c.settled || c.at.Sub(m.stood) >= held
	switch {
	case c.settled && ((c.gross-m.gross).Abs() <= near || c.at.Sub(m.at) > believed), c.gross > m.gross && (stands || !r.sharp(c.gross-from, burst)):
		*m = most{gross: c.gross, base: base, raw: c.raw, sure: c.settled, at: c.at, stood: m.stood}
	case c.gross >= m.gross-near:
		m.at = c.at
	}
	switch {
	case (c.gross-base)*2 > m.gross-base:
		m.fell = time.Time{}
	case m.fell.IsZero():
		m.fell, m.low = c.at, c.gross
	case c.gross < m.low || r.sharp(c.gross-m.low, burst): // a rise that was powder came since
		m.low = c.gross
	}
}
