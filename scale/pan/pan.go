package pan

import (
	"time"

	"tared/protocol"
	"tared/scale"
)

// Pan is what is believed of one scale. Gross weights are what the scale shows and
// the offsets, so that they stand still when its zero moves.
type Pan struct {
	name string
	max  protocol.Mass
	step protocol.Mass
	instrument

	state   State
	offsets Offsets
	line    line
	lines   lines
	rest    rest
	motion  motion
	lag     time.Duration // time constant of the scale's filter, learnt from its containers; 0: not yet
	trace   trace         // of this pour

	vessel  vessel
	lift    lift
	key     key
	gap     gap
	printed frame
	left    Remainder     // what a tip seemed to leave in the container
	object  protocol.Mass // what else lies on the pan, as far as the lift of the container showed it
	prior   Prior         // a container that was taken off with nothing poured
}

// New makes the pan of a scale of which nothing is known.
func New(name string, most, step protocol.Mass) Pan { return Pan{name: name, max: most, step: step} }

// Hear takes one update and says what it means. It decides by this pan alone;
// whether a lift is a take is not its business.
func (p *Pan) Hear(u scale.Update) Event {
	p.instrument = instrument{u.Link, u.Why, u.Identity, u.Counts, u.Print}
	if !u.HasReading {
		return None
	}
	p.line.at, p.line.status, p.line.raw = u.At, u.Reading.Status, Printable(u.Reading.Raw)
	p.line.shown, p.line.unit = u.Reading.Value, u.Reading.Unit
	if !u.HasMass {
		p.line.usable, p.line.settled, p.rest.holds, p.lines.ok = false, false, false, false
		if u.Reading.Status != protocol.Error && u.Reading.Status != protocol.Invalid { // a bad line contradicts nothing
			p.rest.known = false
		}
		return None
	}
	unit := p.line.weighed
	p.line.weighed, p.step = u.Reading.Unit, u.Step
	p.lines.hear(u)
	by, s := p.pressed(u)
	pressed := p.judge(s, look{mass: by})
	p.line.mode = u.Reading.Mode
	p.take(u)
	e := p.weigh(u)
	p.lines.close(u)
	switch {
	case pressed != None && (e == None || e == PutOn):
		return pressed
	case e == None && unit != "" && unit != p.line.weighed:
		return UnitChanged
	}
	return e
}

// take stores the reading and keeps the account of rest and of motion.
func (p *Pan) take(u scale.Update) {
	c := change{at: u.At, gross: u.Mass + p.Carried(), before: p.line.gross, first: !p.line.usable,
		settled: u.Settled, late: u.Late, stood: p.lines.stood(u.At), raw: p.line.raw}
	p.line.gross, p.line.settled, p.line.usable = c.gross, c.settled, true
	p.motion.hear(c.at, c.gross)
	if p.state == Container {
		p.trace.add(c.at, c.gross)
	}
	still, left := p.rest.hear(c, p.step)
	if left {
		p.motion.burst, p.motion.top = 0, c.gross
	}
	if !still {
		p.motion.climb(c.at, c.gross, c.before)
	}
}

// weigh says what the weight just taken means.
func (p *Pan) weigh(u scale.Update) Event {
	s := moving
	switch {
	case p.print && !p.line.settled:
		return None // the scale itself says that it moves: the key is pressed again
	case p.print:
		s = printed
	case p.line.settled:
		s = settled
	}
	l := p.look(u, s)
	e := p.judge(s, l)
	if l.first {
		p.motion.top = 0
	}
	return e
}

// judge takes the first row of the table that fits.
func (p *Pan) judge(s sight, l look) Event {
	if s == nothing {
		return None
	}
	for i := range rows {
		r := &rows[i]
		if r.on != s || !r.is(p.state) || r.when != nil && !r.when(p, l) {
			continue
		}
		if r.do != nil {
			r.do(p, l)
		}
		if r.next != stay {
			p.state = r.next
		}
		if taken != nil {
			taken(r.name)
		}
		return r.emit
	}
	return None
}

// taken is told of each row that is taken; nil but in tests.
var taken func(row string)

func (r *row) is(s State) bool {
	for _, x := range r.in {
		if x == s {
			return true
		}
	}
	return false
}

func (p *Pan) forgetMotion() { p.motion.n, p.trace.n = 0, 0 }

// What can be read off a pan.

// Name is that of its scale.
func (p *Pan) Name() string { return p.name }

// Max is what its scale holds; 0: not known.
func (p *Pan) Max() protocol.Mass { return p.max }

// Step is the scale's at this point of its range.
func (p *Pan) Step() protocol.Mass { return p.step }

// Steps gives the mass of n steps.
func (p *Pan) Steps(n int) protocol.Mass { return protocol.Mass(n) * max(p.step, 1) }

// Least is the least that can be a container.
func (p *Pan) Least() protocol.Mass { return max(p.Steps(LeastContainer), lightest) }

// Link tells whether the scale can be heard.
func (p *Pan) Link() scale.Link { return p.link }

// Why says in a sentence what is wrong with the scale.
func (p *Pan) Why() string { return p.why }

// Identity says which instrument it is.
func (p *Pan) Identity() scale.Identity { return p.id }

// Counts tells how its line is doing.
func (p *Pan) Counts() scale.Counts { return p.count }

// Print reports whether the scale speaks on its print key only.
func (p *Pan) Print() bool { return p.print }

// On says what is believed to stand there: Empty, Container, Lifted or Unknown.
func (p *Pan) On() State {
	if p.state == lostZero {
		return Lifted
	}
	return p.state
}

// Offsets says by how much the zero has moved, and why.
func (p *Pan) Offsets() Offsets { return p.offsets }

// Carried is the sum of the offsets.
func (p *Pan) Carried() protocol.Mass { return p.offsets.Sum() }

// Usable reports whether the last line was a weight.
func (p *Pan) Usable() bool { return p.line.usable }

// Gross is the load, with what the scale's zero has moved by.
func (p *Pan) Gross() protocol.Mass { return p.line.gross }

// Shown is what stands on the display.
func (p *Pan) Shown() protocol.Decimal { return p.line.shown }

// Unit is that of the display.
func (p *Pan) Unit() protocol.Unit { return p.line.unit }

// Status is that of the last line.
func (p *Pan) Status() protocol.Status { return p.line.status }

// Settled reports whether the last line had settled.
func (p *Pan) Settled() bool { return p.line.settled }

// AtRest reports whether the load is where it last settled, also where the last line
// flickers by a step.
func (p *Pan) AtRest() bool { return p.line.settled || p.rest.holds }

// Rest is where the load last settled, and the line that says so.
func (p *Pan) Rest() (protocol.Mass, string) { return p.rest.mass, p.rest.raw }

// At is when the last line came.
func (p *Pan) At() time.Time { return p.line.at }

// Raw is the last line, in printable form.
func (p *Pan) Raw() string { return p.line.raw }

// Live reports whether the pan says something about this moment.
func (p *Pan) Live(now time.Time) bool {
	return p.link == scale.Up && p.line.usable && (p.print || now.Sub(p.line.at) <= scale.StaleAfter)
}

// Weight is the container's own, gross.
func (p *Pan) Weight() protocol.Mass { return p.vessel.weight }

// Base is the gross weight at which this pour began: the container and what clings
// in it.
func (p *Pan) Base() protocol.Mass { return p.vessel.base }

// Content is what was poured since the pour began.
func (p *Pan) Content() protocol.Mass { return p.line.gross - p.vessel.base }

// Gained is what came into the container since Mark.
func (p *Pan) Gained() protocol.Mass { return p.Content() - p.vessel.mark }

// Marked is what lay in it then.
func (p *Pan) Marked() protocol.Mass { return p.vessel.mark }

// Untared reports whether a container stands there whose content belongs to nothing
// yet.
func (p *Pan) Untared() bool { return p.vessel.untared }

// Slow reports whether the untared container came as slowly as powder.
func (p *Pan) Slow() bool { return p.vessel.slow }

// Noted reports whether Note was called since the container stands there.
func (p *Pan) Noted() bool { return p.vessel.noted }

// Before is the gross weight before the last lift.
func (p *Pan) Before() protocol.Mass { return p.lift.before }

// Sure reports whether that had settled.
func (p *Pan) Sure() bool { return p.lift.sure }

// LiftRaw is the line that says so.
func (p *Pan) LiftRaw() string { return p.lift.raw }

// LiftedContent is what the container held when it was lifted.
func (p *Pan) LiftedContent() protocol.Mass { return p.lift.before - p.vessel.base }

// Rested reports whether the pan came to rest since the lift.
func (p *Pan) Rested() bool { return p.lift.rested }

// Gapped reports whether the scale fell silent since the lift.
func (p *Pan) Gapped() bool { return p.lift.gapped }

// ZeroOff is by how much the zero had drifted when the pan was last seen empty.
func (p *Pan) ZeroOff() protocol.Mass { return p.lift.zero }

// Silent reports whether the scale fell silent and was not heard since.
func (p *Pan) Silent() bool { return !p.gap.since.IsZero() }

// Expected is the gross weight before the gap, and whether it is known.
func (p *Pan) Expected() (protocol.Mass, bool) { return p.gap.expect, p.gap.expects }

// Proven reports whether the pan was seen empty since the gap.
func (p *Pan) Proven() bool { return p.gap.proven }

// KeyTook is what the tare key took last; negative: what it gave up.
func (p *Pan) KeyTook() protocol.Mass { return p.key.by }

// KeyInferred reports whether nobody saw it pressed.
func (p *Pan) KeyInferred() bool { return p.key.inferred }

// Keys is how often it was pressed since the weight before this pour was read.
func (p *Pan) Keys() int { return p.key.count }

// Left is what a tip seemed to leave in the container.
func (p *Pan) Left() Remainder { return p.left }

// Prior is a container that left the pan with nothing poured.
func (p *Pan) Prior() Prior { return p.prior }

// Sharp reports whether a rise of so much came at once, as a container does, and not
// little by little, as powder does. When the rise was not seen from its beginning it
// counts as a container.
func (p *Pan) Sharp(rise protocol.Mass) bool {
	return p.rest.unseen || p.motion.burst*100 >= rise*sharpPercent
}

// Rises reports whether the load came up, and not down, from its last rest.
func (p *Pan) Rises() bool {
	if p.line.settled {
		return p.motion.burst > p.Steps(SameSlack)
	}
	return p.line.gross >= p.rest.mass
}

// Unseen reports whether the load came with no line to tell how: one was read late,
// or the pan had not rested before.
func (p *Pan) Unseen() bool { return p.rest.unseen }

// Flow is what comes in a second; 0 when unknown.
func (p *Pan) Flow() protocol.Mass { return p.motion.flow() }

// Lump is how much more than its share came at once of late.
func (p *Pan) Lump() protocol.Mass { return p.motion.lump() }

// Every is the time between two lines.
func (p *Pan) Every() time.Duration { return p.motion.every() }

// Lag is the time constant of the scale's filter, the usual one until it is known.
func (p *Pan) Lag() time.Duration {
	if p.lag == 0 {
		return UsualLag
	}
	return p.lag
}

// LagKnown reports whether the scale has shown its lag.
func (p *Pan) LagKnown() bool { return p.lag != 0 }

// Trace writes this pour as seconds and grams.
func (p *Pan) Trace() string { return p.trace.text(p.vessel.base, p.step.Places()) }

// Printable writes a frame so that a person can read it and nothing is lost:
// printable ASCII as it is, all else as \xNN.
func Printable(b []byte) string {
	const hex = "0123456789abcdef"
	out := make([]byte, 0, len(b))
	for _, c := range b {
		if c >= 0x20 && c < 0x7f && c != '\\' {
			out = append(out, c)
		} else {
			out = append(out, '\\', 'x', hex[c>>4], hex[c&15])
		}
	}
	return string(out)
}
