package pan

import (
	"time"

	"tared/protocol"
	"tared/scale"
)

// heldLines is how many more lines at zero make a small jump to zero a key.
const heldLines = 2

// stillAfter is how long the display stands still after a key that was pressed while
// nothing moved. Powder that ran then runs on, and is seen. From memory, no source.
const stillAfter = 500 * time.Millisecond

// LastKey is the scale's own tare key, as it was pressed last.
type LastKey struct {
	By       protocol.Mass // what it took; negative: what it gave up
	Count    int           // presses since the weight before this pour was read
	Inferred bool          // nobody saw it pressed

	presumed bool          // it could have been hands as well
	gross    protocol.Mass // before it
	raw      string        // the line that gross rests on
	held     protocol.Mass // a small jump to zero that may be a key; 0: none
	moving   bool          // it was not at rest
	lines    int           // since then
	open     bool          // it is not seen yet that nothing moved while it was pressed,
	at       time.Time     // which was then ...
	shown    protocol.Mass // ... and this was shown
}

// wait judges the lines after a jump to zero that is small, or was not at rest: hands
// would have gone on. What moved while a key was pressed moves a little further.
func (k *LastKey) wait(u scale.Update) (by protocol.Mass, s sight) {
	low, high, s := -u.Step, u.Step, keySeen
	if k.moving {
		low, high, s = min(low, -k.held.Abs()/8), k.held.Abs(), keyMoving
	}
	if k.lines++; u.Mass < low || u.Mass > high {
		k.held, k.lines = 0, 0
	} else if k.lines == heldLines {
		by, k.held, k.lines = k.held, 0, 0
		return by, s
	}
	return 0, nothing
}

// ranOn reports whether powder runs on after a key.
func (k *LastKey) ranOn(u scale.Update) bool {
	was := k.open
	k.open = was && !u.Settled && u.At.Sub(k.at) < stillAfter
	return was && u.Mass > k.shown+u.Step
}

// pressed reports whether a key of the scale moved its zero between the last line
// and this one, and by how much: keySeen, keyPresumed where it could have been hands
// as well and later readings show it, or nothing.
//
// A key changes what is shown and not what lies on the pan: from rest, at once, to
// zero exactly. Hands take a container to zero, too, and put one back to zero when
// the scale was tared with it, but are seen at it: some lines are on the way. Where
// this scale has shown such lines before, their absence tells. A scale that says net
// or gross tells itself.
func (p *Pan) pressed(u scale.Update) (by protocol.Mass, s sight) {
	if p.instrument.Print || !p.lines.ok || p.state == Unknown || u.At.Sub(p.lines.at) > calmLines*3 {
		return 0, nothing
	}
	if p.key.ranOn(u) {
		return 0, keyMoving
	}
	load := p.lines.mass + p.Carried()
	if p.rest.holds {
		load = p.rest.mass
	}
	by = load - p.Carried() - u.Mass
	was, now := p.line.mode, u.Reading.Mode
	if now == protocol.Net && u.Reading.Stable == protocol.No && p.state != Container {
		by = load - p.Carried() // a key leaves zero on an empty pan: the rest is what hands put there since
	}
	switch {
	case was != now && was != protocol.ModeUnsaid && now != protocol.ModeUnsaid && by != 0:
		// Gross to net, or back. What lay there lies there still, unless hands were
		// at it in the same moment.
		switch {
		case !p.rest.holds || now == protocol.Net && u.Mass.Abs() > u.Step:
			return 0, keyMoving
		case now == protocol.Net || p.lines.calm:
			return by, keySeen
		}
		return 0, nothing
	case p.key.held != 0:
		return p.key.wait(u)
	}
	return by, p.zeroed(u, by)
}

// zeroed judges a jump that may be one to zero.
func (p *Pan) zeroed(u scale.Update, by protocol.Mass) sight {
	straight := p.lines.calm && u.At.Sub(p.lines.at) <= calmLines
	tared, seen := p.tared(), p.seenComing()
	small, unsteady := by.Abs() < p.Steps(LeastContainer), u.Reading.Stable == protocol.No
	unclear := small && seen && !unsteady
	if tared {
		unclear = small || unsteady
	}
	if unclear && straight && u.Mass == 0 && by.Abs() > p.Steps(SameSlack) {
		p.key.held, p.key.moving, p.key.lines = by, false, 0
		return nothing
	}
	if ran := max(p.ran(u.At), 0); tared && unsteady && !small && u.Mass.Abs() <= u.Step+ran && (by > 0 || -by > p.Steps(LeastContainer)+3*ran) {
		p.key.held, p.key.moving, p.key.lines = by, true, 0
		return nothing
	}
	if u.Mass.Abs() > u.Step || small || unsteady {
		return nothing
	}
	return p.toZero(u, by, straight, tared, seen)
}

// toZero judges a large jump to zero.
func (p *Pan) toZero(u scale.Update, by protocol.Mass, straight, tared, seen bool) sight {
	switch {
	case straight && tared:
		return keySeen
	case tared && -by > p.Steps(LeastContainer)+3*p.ran(u.At):
		return keyMoving // up to zero at once, as no powder comes
	case straight && seen && (p.rest.holds || p.lines.stable):
		return keyPresumed
	case straight && seen && p.On() == Lifted:
		return keyMoving
	case u.Reading.Mode == protocol.Gross && p.line.mode == protocol.Gross:
		return nothing
	case p.untouched():
		return keyPresumed
	}
	return nothing
}

// tared reports whether the key took the container up before: a lift would then go
// below zero.
func (p *Pan) tared() bool {
	return p.state == Container && p.Carried().Abs() >= p.Steps(LeastContainer)
}

// ran is what comes from the last line to this time, as it ran of late.
func (p *Pan) ran(at time.Time) protocol.Mass {
	return p.Flow() / 1000 * protocol.Mass(at.Sub(p.lines.at).Milliseconds())
}

// seenComing reports whether this scale shows lines while hands are at the pan.
func (p *Pan) seenComing() bool {
	return p.vessel.seen || p.state != Container && p.rest.moved
}

// untouched reports whether a container rested there with nothing poured.
func (p *Pan) untouched() bool {
	return p.state == Container && p.rest.holds && p.Content().Abs() <= p.Steps(SameSlack) && p.lines.mass > 0
}
