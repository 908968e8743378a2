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
	at     time.Time     // when the load was last seen there
	from   protocol.Mass // the mass before it, where that is known ...
	was    string        // ... its line ...
	until  time.Time     // ... and when the load was last seen there
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
		from, was, until := c.gross, c.raw, c.at
		if r.known {
			from, was, until = r.mass, r.raw, r.at
		}
		*r = rest{mass: c.gross, raw: c.raw, at: c.at, from: from, was: was, until: until, known: true, holds: true, rose: r.rose, turned: r.turned, unseen: r.unseen, came: r.moved}
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
	calm   bool          // the last two lines said the same, or the last one called itself stable
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
	l.calm = u.Reading.Stable == protocol.Yes || l.ok && (u.Mass-l.mass).Abs() <= u.Step && l.stood(u.At)
	l.mass, l.ok, l.at = u.Mass, true, u.At
}
