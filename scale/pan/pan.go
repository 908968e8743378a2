package pan

import (
	"time"

	"tared/protocol"
	"tared/scale"
)

// Pan is what is believed of one scale. Gross weights are what the scale shows and
// the offsets, so that they stand still when its zero moves.
type Pan struct {
	name       string
	max        protocol.Mass
	step       protocol.Mass
	instrument Instrument

	state   State
	offsets Offsets
	line    Line
	lines   lines
	faces   faces
	other   Other
	rest    rest
	most    most
	sinks   bool // this line shows less than the one before
	motion  motion
	lag     time.Duration // time constant of the scale's filter, learnt from its containers; 0: not yet
	trace   trace         // of this pour

	vessel  Vessel
	lift    LastLift
	key     LastKey
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
	p.instrument = Instrument{u.Link, u.Why, u.Identity, u.Counts, u.Print}
	if u.Link != scale.Up {
		p.other = Other{}
	}
	if !u.HasReading || u.HasMass && p.another(u) {
		return None
	}
	p.line.At, p.line.Status, p.line.Raw = u.At, u.Reading.Status, Printable(u.Reading.Raw)
	p.line.Shown, p.line.Unit = u.Reading.Value, u.Reading.Unit
	if !u.HasMass {
		p.line.Usable, p.line.Settled, p.rest.holds, p.lines.ok = false, false, false, false
		if u.Reading.Status != protocol.Error && u.Reading.Status != protocol.Invalid { // a bad line contradicts nothing
			p.rest.known = false
		}
		return None
	}
	unit := p.line.weighed
	p.line.weighed, p.step = u.Reading.Unit, u.Step
	p.lines.hear(u)
	by, s := p.pressed(u)
	pressed := p.judge(s, look{at: u.At, mass: by})
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

// another reports whether a weight is of another scale than before: it is written in
// another way, after a silence. Until somebody says otherwise, it counts for nothing.
func (p *Pan) another(u scale.Update) bool {
	f := face{u.Identity.Format, u.Reading.Unit, u.Step, int(u.Reading.Value.Places)}
	lately := p.lines.ok && !p.Silent() && (p.instrument.Print || u.At.Sub(p.lines.at) <= scale.StaleAfter)
	if lately || p.faces.fits(f) {
		p.faces.add(f)
		p.other = Other{}
		return false
	}
	p.other = Other{true, u.Reading.Value, u.Reading.Unit}
	return true
}

// take stores the reading and keeps the account of rest and of motion.
func (p *Pan) take(u scale.Update) {
	c := change{at: u.At, gross: u.Mass + p.Carried(), before: p.line.Gross, first: !p.line.Usable,
		settled: u.Settled, late: u.Late, stood: p.lines.stood(u.At), raw: p.line.Raw}
	p.line.Gross, p.line.Settled, p.line.Usable = c.gross, c.settled, true
	p.motion.hear(c.at, c.gross)
	if p.state == Container {
		p.trace.add(c.at, c.gross)
	}
	still, left := p.rest.hear(c, p.step)
	if left {
		if p.motion.burst, p.motion.top = 0, c.gross; p.rest.known {
			p.motion.top = max(c.gross, p.rest.mass)
		}
	}
	if !still {
		p.motion.climb(c.at, c.gross, c.before)
	}
	p.sinks = !c.first && c.gross < c.before-p.step
	if p.state == Container {
		p.most.hear(c, &p.rest, p.vessel.Base, p.motion.burst, p.Steps(SameSlack))
	}
}

// weigh says what the weight just taken means.
func (p *Pan) weigh(u scale.Update) Event {
	s := moving
	switch {
	case p.instrument.Print && !p.line.Settled:
		return None // the scale itself says that it moves: the key is pressed again
	case p.instrument.Print:
		s = printed
	case p.line.Settled:
		s = settled
	}
	l := p.look(u, s)
	e := p.judge(s, l)
	if l.first {
		p.motion.top = p.line.Gross
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

// Instrument is what its scale says of itself.
func (p *Pan) Instrument() Instrument { return p.instrument }

// Other tells of another scale that speaks here; none of its weights counts.
func (p *Pan) Other() Other { return p.other }

// Line is the last line of the scale.
func (p *Pan) Line() Line { return p.line }

// Vessel is the container.
func (p *Pan) Vessel() Vessel { return p.vessel }

// Lift is the last lift of the container.
func (p *Pan) Lift() LastLift { return p.lift }

// Key is the scale's own tare key, as it was pressed last.
func (p *Pan) Key() LastKey { return p.key }

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
func (p *Pan) Usable() bool { return p.line.Usable }

// Gross is the load, with what the scale's zero has moved by.
func (p *Pan) Gross() protocol.Mass { return p.line.Gross }

// Settled reports whether the last line had settled.
func (p *Pan) Settled() bool { return p.line.Settled }

// AtRest reports whether the load is where it last settled, also where the last line
// flickers by a step.
func (p *Pan) AtRest() bool { return p.line.Settled || p.rest.holds }

// Rest is where the load last settled, and the line that says so.
func (p *Pan) Rest() (protocol.Mass, string) { return p.rest.mass, p.rest.raw }

// Raw is the last line, in printable form.
func (p *Pan) Raw() string { return p.line.Raw }

// Live reports whether the pan says something about this moment.
func (p *Pan) Live(now time.Time) bool {
	return p.instrument.Link == scale.Up && p.line.Usable && (p.instrument.Print || now.Sub(p.line.At) <= scale.StaleAfter)
}

// Content is what was poured since the pour began.
func (p *Pan) Content() protocol.Mass { return p.line.Gross - p.vessel.Base }

// Gained is what came into the container since Mark.
func (p *Pan) Gained() protocol.Mass { return p.Content() - p.vessel.Mark }

// LiftedContent is what the container held when it was lifted.
func (p *Pan) LiftedContent() protocol.Mass { return p.lift.Before - p.vessel.Base }

// Knocked reports whether only what clung in the container was in it when it was lifted.
func (p *Pan) Knocked() bool {
	return p.vessel.Clung > 0 && p.LiftedContent() <= p.vessel.Clung+p.Steps(SameSlack)
}

// Unproven reports whether the container is off and the scale fell silent since: its
// zero is not known before the pan was seen empty.
func (p *Pan) Unproven() bool { return p.On() == Lifted && p.lift.Gapped && !p.gap.proven }

// Falls reports whether the load is less than where it last rested, and has not come to
// rest since: it is being lifted, or was, and nobody knows yet what is in it.
func (p *Pan) Falls() bool {
	return p.rest.known && !p.rest.holds && p.line.Gross < p.rest.mass-p.Steps(ZeroSlack)
}

// Silent reports whether the scale fell silent and was not heard since.
func (p *Pan) Silent() bool { return !p.gap.since.IsZero() }

// Expected is the gross weight before the gap, and whether it is known.
func (p *Pan) Expected() (protocol.Mass, bool) { return p.gap.expect, p.gap.expects }

// Noted reports whether what is expected is from a record, and not from what was heard.
func (p *Pan) Noted() bool { return p.gap.noted }

// ZeroLost reports whether a key of the scale took nobody knows how much, and the pan was
// not seen empty since.
func (p *Pan) ZeroLost() bool { return p.gap.moved && !p.gap.proven }

// AtLeast reports whether what is expected is the least that there was: powder ran when the
// gap began, or a key that was pressed in motion took nobody knows how much.
func (p *Pan) AtLeast() bool { return p.gap.moved || p.gap.ran }

// Proven reports whether the pan was seen empty since the gap.
func (p *Pan) Proven() bool { return p.gap.proven }

// Left is what a tip seemed to leave in the container.
func (p *Pan) Left() Remainder { return p.left }

// Prior is a container that left the pan with nothing poured.
func (p *Pan) Prior() Prior { return p.prior }

// Sharp reports whether a rise of so much came at once, as a container does, and not
// little by little, as powder does. When the rise was not seen from its beginning it
// counts as a container.
func (p *Pan) Sharp(rise protocol.Mass) bool {
	return p.rest.sharp(rise, p.motion.burst)
}

// Rises reports whether the load came up, and not down, from its last rest.
func (p *Pan) Rises() bool {
	if p.line.Settled {
		return p.motion.burst > p.Steps(SameSlack)
	}
	return p.line.Gross >= p.rest.mass
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
func (p *Pan) Trace() string { return p.trace.text(p.vessel.Base, p.step.Places()) }

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
