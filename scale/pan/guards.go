package pan

import (
	"time"

	"tared/protocol"
	"tared/scale"
)

// look is what is known of a reading beside the pan itself, when it is judged.
type look struct {
	at         time.Time
	mass       protocol.Mass // as shown, or what a key took
	first      bool          // the first rest since the lift
	low        protocol.Mass // the lowest since the lift, and since it rested then
	slowly     bool          // what came since the lift came like powder, onto an empty pan
	keyWasLift bool
	doubtful   bool
	rose       bool  // it came onto a pan that is known to have been empty by that
	last       frame // of a print-key scale
}

// look looks at a reading that was just taken, and keeps what must be kept of it
// whatever it means.
func (p *Pan) look(u scale.Update, s sight) look {
	l := look{at: u.At, mass: u.Mass, last: p.printed}
	switch {
	case s == settled && p.state == Container && p.key.presumed && u.Mass >= p.Steps(LeastContainer):
		p.key.presumed = false
		// Had it been a lift, so much would stand there now.
		back := p.line.Gross - p.key.By
		near := max(p.Steps(3), (p.key.gross-p.vessel.Base)/20)
		l.keyWasLift = p.Sharp(u.Mass) && ((back-p.vessel.Base).Abs() <= near || (back-p.key.gross).Abs() <= p.Steps(3))
	case s == settled && p.state == Empty:
		l.low, p.motion.low = p.motion.low, p.line.Gross
	case s == settled && p.On() == Lifted:
		l.first, l.low = !p.lift.Rested, p.motion.low
		p.lift.Rested, p.motion.low = true, p.line.Gross
		// A key takes the display to zero. Where it never was there, the container left
		// while something leant on the pan.
		l.slowly = !p.Sharp(p.line.Gross) && (!l.first || l.low <= p.Steps(ZeroSlack))
	case s == printed:
		p.printed = frame{p.line.Gross, p.line.Raw, true}
	}
	if p.state == lostZero && s == settled || p.state == Unknown && s != moving {
		proven := p.gap.proven
		l.doubtful = p.doubt(u.Mass)
		l.rose = p.gap.proven && !proven
	}
	return l
}

// doubt reports, after a gap, that the reading proves nothing because the scale's
// own tare may have been lost in it: zero is then an empty pan, and else a container
// that was tared. The next thing that moves tells which.
func (p *Pan) doubt(shown protocol.Mass) bool {
	zero := p.gap.zero
	p.gap.zero = false
	if p.gap.proven || !p.gap.moved && p.Carried().Abs() < p.Steps(LeastContainer) {
		return false
	}
	low := shown - (p.rest.mass - p.rest.from)
	switch {
	case shown <= -p.Steps(LeastContainer) && shown-p.gap.low < p.vessel.Weight/2: // less than nothing is an empty pan
		p.rezero(Offsets{Object: -shown})
	case p.gap.moved && p.rest.mass-p.rest.from >= max(p.vessel.Weight/2, p.Least()) && p.Sharp(p.rest.mass-p.rest.from):
		// A container came: the pan was empty before.
		p.rezero(Offsets{Inferred: -low})
		p.gap.proven = true
	case p.gap.moved:
		return true
	case shown.Abs() <= p.Steps(ZeroSlack):
		p.gap.zero = true
		return true
	case zero && shown > 0, p.gap.expects && (shown-p.gap.expect).Abs() <= p.Steps(SameSlack):
		// It was an empty pan, or it shows the whole weight again: the tare is lost.
		p.rezero(Offsets{})
	}
	return false
}

// The conditions of the table.

func heavy(p *Pan, _ look) bool       { return p.line.Gross >= p.Least() }
func comesSlowly(p *Pan, l look) bool { return heavy(p, l) && !p.Sharp(p.line.Gross) }
func offZero(p *Pan, _ look) bool     { return p.line.Gross != 0 }

// fromBelow reports whether a container that a key tared was off, and is back, too soon
// for the empty pan to rest.
func fromBelow(p *Pan, l look) bool {
	rise := p.line.Gross - l.low
	return l.low < -p.Least() && rise >= p.Least() && p.Sharp(rise)
}
func loaded(p *Pan, _ look) bool     { return p.line.Gross >= p.Steps(LeastContainer) }
func unloaded(p *Pan, l look) bool   { return !loaded(p, l) }
func belowZero(p *Pan, _ look) bool  { return p.line.Gross < -p.Steps(ZeroSlack) }
func keyWasLift(_ *Pan, l look) bool { return l.keyWasLift }
func rose(_ *Pan, l look) bool       { return l.rose }
func doubtful(_ *Pan, l look) bool   { return l.doubtful }

// gone reports whether the container left the pan.
func gone(p *Pan, _ look) bool {
	if p.vessel.Weight < p.Steps(LeastContainer) { // its own weight is not known
		return p.line.Gross < -p.Steps(LeastContainer)
	}
	return p.line.Gross <= p.vessel.Weight/2
}

func remainderGone(p *Pan, _ look) bool {
	return p.left.Amount != 0 && (p.line.Gross-p.left.Base).Abs() <= p.left.Slack
}

// fellUnseen reports whether most of what was in the container is not there any more,
// though nobody saw the container leave, or the powder taken out of it.
func fellUnseen(p *Pan, l look) bool {
	m := &p.most
	had := m.gross - m.base
	if p.vessel.Untared || had <= p.Steps(LeastContainer) || m.fell.IsZero() || m.at.IsZero() {
		return false
	}
	return (p.line.Settled || l.at.Sub(m.fell) >= fallen && !p.sinks) && !p.motion.lingers(m.at, m.base+had/4, m.base+had/4*3)
}

func lighter(p *Pan, _ look) bool { return p.line.Gross < p.vessel.Base-p.step }

func objectGone(p *Pan, l look) bool {
	return p.object != 0 && lighter(p, l) && (p.vessel.Base-p.line.Gross-p.object).Abs() <= p.Steps(3)
}

// backFromBelow reports whether the display went as far below zero as a container weighs,
// and up again without a rest: a key was pressed, in the lift or in its place.
func backFromBelow(p *Pan, l look) bool {
	least := max(p.vessel.Weight/2, p.Least())
	return l.low <= -least && p.line.Gross-l.low >= least && p.line.Gross < p.vessel.Weight/2
}

func halfBack(p *Pan, l look) bool { return p.line.Gross >= p.vessel.Weight/2 && loaded(p, l) }

func stayed(p *Pan, l look) bool {
	return loaded(p, l) && l.first && l.low >= p.line.Gross-p.Steps(ZeroSlack)
}

// loadedSlowly leaves out what lay there before the lift, too.
func loadedSlowly(p *Pan, l look) bool {
	return l.slowly && loaded(p, l) && (halfBack(p, l) || !stayed(p, l))
}

func slowlyUnsure(p *Pan, l look) bool { return !p.lift.Sure && loadedSlowly(p, l) }

// heavyFromZero reports whether a load much lighter than what was lifted came onto
// the empty pan. Powder poured into it would look like a key; the zero key pressed while
// powder runs leaves it a little above zero.
func heavyFromZero(p *Pan, l look) bool {
	return heavy(p, l) && l.low >= -p.Steps(ZeroSlack) && l.low <= max(p.Steps(ZeroSlack), p.line.Gross/3)
}

func belowSinceGap(p *Pan, l look) bool { return p.lift.Gapped && belowZero(p, l) }

func liftedAfterKey(p *Pan, l look) bool {
	return belowZero(p, l) && !l.first && (p.line.Gross+p.lift.Before).Abs() <= p.Steps(3)
}

func belowAtOnce(p *Pan, l look) bool { return belowZero(p, l) && l.first }

func belowByContainer(p *Pan, l look) bool {
	return belowZero(p, l) && -p.line.Gross >= p.vessel.Weight/2
}

// inFrame is what the frame before this one showed in the container.
func (p *Pan) inFrame(l look) protocol.Mass {
	if !l.last.known {
		return 0
	}
	return l.last.gross - p.vessel.Base
}

func tipped(p *Pan, l look) bool {
	in := p.inFrame(l)
	return in > p.step && (l.last.gross-p.line.Gross)*2 > in && p.line.Gross >= p.vessel.Weight-p.Steps(3)
}

func partlyTipped(p *Pan, l look) bool {
	return tipped(p, l) && p.Content() > max(p.Steps(3), p.inFrame(l)/20)
}

// What the rows do.

// carry moves the zero, and with it what the load is taken to weigh.
func (p *Pan) carry(why Reason, by protocol.Mass) {
	to := p.offsets
	to[why] += by
	p.rezero(to)
}

// rezero puts the zero there, and all that is remembered of the load that stands there.
func (p *Pan) rezero(to Offsets) {
	by := to.Sum() - p.Carried()
	p.offsets = to
	p.line.Gross += by
	p.rest.mass = p.line.Gross
	p.motion.low, p.motion.top = p.motion.low+by, p.motion.top+by
}

// zero makes what is shown now the zero of an empty pan. Where it is little the zero
// has drifted, and what was weighed last drifted with it.
func (p *Pan) zero(why Reason) {
	by := -p.line.Gross
	if by.Abs() < p.Steps(creep) {
		p.vessel.Base += by
		p.vessel.Weight += by
		if p.On() == Lifted {
			p.lift.Before += by
		}
		if p.prior != (Prior{}) {
			p.prior.Base += by
			p.prior.Weight += by
			p.prior.Before += by
		}
		if why != Object {
			why = Drift
		}
	}
	p.carry(why, by)
	p.printed.gross = 0
	p.forgetMotion()
}

// zeroBelow takes the lowest that was seen for the empty pan.
func zeroBelow(p *Pan, l look) { p.carry(Inferred, -l.low) }

func zeroInferred(p *Pan, _ look) { p.zero(Inferred) }

// zeroEmpty is for a zero that was taken with something on it that is gone now, too.
func zeroEmpty(p *Pan, _ look) { p.zero(p.objectOrDrift()) }

func (p *Pan) objectOrDrift() Reason {
	if p.line.Gross < -p.Steps(creep) {
		return Object
	}
	return Drift
}

func arrive(p *Pan, _ look) {
	p.vessel.seen = p.rest.came
	p.learnLag()
}

// learnLag takes the filter's time constant off a container that was seen coming.
func (p *Pan) learnLag() {
	lag := p.motion.lag(p.line.Gross, max(p.step, 1))
	switch {
	case !p.rest.came || lag == 0:
	case p.lag == 0:
		p.lag = lag
	default:
		p.lag += (lag - p.lag) / 3
	}
}

func carryKey(p *Pan, l look) { p.press(Key, l) }

func presumeKey(p *Pan, l look) {
	p.press(Inferred, l)
	p.key.presumed = true
}

// press has the key take up so much of what lies there; gross weights stand still.
func (p *Pan) press(why Reason, l look) {
	by := l.mass
	p.key = LastKey{By: by, Count: p.key.Count + 1, Inferred: why == Inferred, gross: p.line.Gross, raw: p.rest.raw, open: true, at: l.at, shown: p.line.Gross - p.Carried() - by}
	p.offsets[why] += by
	p.rest.mass, p.rest.holds = p.line.Gross, p.rest.holds && p.rest.known
}

func undoKey(p *Pan, _ look) {
	p.carry(Inferred, -p.key.By)
	p.key.Count = max(p.key.Count-1, 0)
	p.lift.Before, p.lift.Raw, p.lift.Sure = p.key.gross, p.key.raw, true
	p.most = most{} // what was shown since then was that much too much
}

// noteFall keeps what stood there before a fall that nobody saw.
func noteFall(p *Pan, _ look) {
	p.lift = LastLift{Before: p.most.gross, Sure: p.most.sure, Raw: p.most.raw, Fell: p.most.low}
}

// liftOff notes the lift: what stood there before it, and whether that was at rest.
func liftOff(p *Pan, l look) {
	p.lift = LastLift{Before: p.rest.mass, Sure: p.rest.quickFall(l.at), Raw: p.rest.raw, rose: p.rest.rose}
	if !p.lift.Sure {
		p.lift.Before = p.motion.peak(p.vessel.Base)
	}
	p.trace.fall(p.lift.Before - p.Steps(SameSlack))
	p.rest.forget()
	p.motion.top, p.motion.low, p.motion.burst = p.line.Gross, p.line.Gross, 0
}

// carryObject is for what lay beside the container.
func carryObject(p *Pan, _ look) {
	p.carry(Object, p.vessel.Base-p.line.Gross)
	p.object = 0
}

// keepObject is for what lay on the pan before the lift and lies there still.
func keepObject(p *Pan, _ look) {
	p.object = p.line.Gross
	if p.object >= p.Steps(creep) {
		p.lift.Before -= p.object
	}
	p.zero(Object)
}

func prove(p *Pan, _ look) { p.gap.proven = true }

func proveAndZero(p *Pan, _ look) {
	p.gap.proven = true
	p.zero(p.objectOrDrift())
}

func (l *LastLift) doubt() { l.Sure, l.Keyed = false, true }

// liftWasKey is for a container that never left: its zero moved, and what came since
// was poured.
func liftWasKey(p *Pan, _ look) {
	p.carry(Inferred, p.lift.Before)
	p.key.By, p.key.Inferred = p.lift.Before, true
}

func comeBack(p *Pan, l look) {
	p.whenPressed()
	p.vessel.seen = p.rest.came
	if l.low.Abs() <= p.Steps(ZeroSlack) {
		p.learnLag()
		if !l.first {
			p.lift.Zero = l.low
		}
	}
	if l.low < -p.Steps(creep) {
		// It went below an empty pan and did not rest there: a key was pressed in the
		// very moment of the lift, and how much it took is known roughly only.
		p.carry(Inferred, -l.low)
		p.lift.doubt()
	}
}

// peakThenZero is for a lift that was taken for the key before.
func peakThenZero(p *Pan, _ look) {
	if p.motion.top > p.Steps(LeastContainer) {
		p.lift.Before = p.motion.top - p.line.Gross
		p.lift.doubt()
	}
	p.zero(Inferred)
}

// noteUnder is for a key that was not seen. Pressed before the container was tared, all
// that was shown since lacks what it took; pressed in the lift, nothing does.
func noteUnder(p *Pan, _ look) {
	if p.line.Gross <= -p.Steps(creep) {
		p.lift.under = -p.line.Gross
	}
	p.zero(Inferred)
}

// whenPressed has what came back tell when the key was pressed: it weighs what it did, with
// what the key took or without. Where it tells neither, or both, nobody knows.
func (p *Pan) whenPressed() {
	near := func(by protocol.Mass) bool {
		like := func(m protocol.Mass) bool {
			return (p.line.Gross - m - by).Abs() <= max(p.Steps(ZeroSlack), p.LiftedContent()/50)
		}
		return like(p.vessel.Base) || like(p.lift.Before)
	}
	switch by := p.lift.under; {
	case by == 0 || near(0) && !near(by):
	case near(by) && !near(0):
		p.lift.Before, p.vessel.Base, p.vessel.Weight = p.lift.Before+by, p.vessel.Base+by, p.vessel.Weight+by
	default:
		p.lift.doubt()
	}
}

// weighByKey is for a container that was tared by the key before it was weighed: the
// key weighed it.
func weighByKey(p *Pan, _ look) {
	low := -p.line.Gross
	p.zero(Inferred)
	p.line.Gross = low
	p.rest.mass, p.rest.known = low, true
}

// loseZero is for a key that took nobody knows how much: the tare is unknown until the
// pan was seen empty.
func loseZero(p *Pan, l look) {
	if p.state == Container {
		expect(p, l)
	} else if p.lift.Gapped = true; l.slowly {
		p.gap.expect, p.gap.expects = p.lift.Before, true
	}
	p.gap = gap{expect: p.gap.expect, expects: p.gap.expects, ran: p.gap.ran, moved: true}
	if backFromBelow(p, l) {
		p.gap.low = l.low - p.Carried()
		if p.motion.top > p.Steps(SameSlack) || p.rest.rose || p.lift.rose {
			p.lift.doubt() // it may have been poured after the key, or while it was pressed
		}
	}
	p.key.open = false
	p.rest.forget()
	p.forgetMotion()
}

func expect(p *Pan, _ look) {
	p.gap.ran = p.Flow() > p.Step()/2
	p.gap.expect, p.gap.expects = p.line.Gross, p.line.Usable || p.rest.known
	switch {
	case p.rest.known && p.rest.left.IsZero():
		p.gap.expect = p.rest.mass
	case p.rest.known: // on its way down it may be a lift, and all of it was there
		p.gap.expect = max(p.gap.expect, p.rest.mass)
	}
}

func liftPrinted(p *Pan, l look) {
	p.lift = LastLift{Before: p.vessel.Base + p.inFrame(l), Sure: true, Raw: l.last.raw}
	p.rest.forget()
	if p.line.Gross.Abs() < p.Steps(LeastContainer) {
		p.zero(Drift)
	}
}

func tipPrinted(p *Pan, l look) {
	p.lift = LastLift{Before: p.vessel.Base + p.inFrame(l), Sure: true, Raw: l.last.raw}
}

// proveAndInfer is for a zero that was taken anew in the gap, with the container on.
func proveAndInfer(p *Pan, _ look) {
	p.gap.proven = true
	p.zero(Inferred)
}

func provePrinted(p *Pan, _ look) {
	p.zero(p.objectOrDrift())
	p.gap.proven = true
}
