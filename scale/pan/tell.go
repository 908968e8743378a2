package pan

import (
	"time"

	"tared/protocol"
)

// What a caller tells a pan. Each method says what happened; the pan draws its own
// conclusions.

// Stand makes what is on the pan now the container of the next pour; weight is its
// own.
func (p *Pan) Stand(weight protocol.Mass) {
	p.state, p.most = Container, most{}
	p.vessel = Vessel{Weight: weight, Base: p.line.Gross, raw: p.line.Raw, seen: p.vessel.seen}
	p.gap = gap{}
	p.prior, p.object, p.key.Count, p.left = Prior{}, 0, 0, Remainder{}
	p.forgetMotion()
}

// StandUntared is Stand for a container whose content belongs to nothing yet; slow:
// it came like powder.
func (p *Pan) StandUntared(slow bool) {
	p.Stand(p.line.Gross)
	p.vessel.Untared, p.vessel.Slow = true, slow
}

// StandFilled is Stand for a container that the scale's key tared before it was seen:
// all that is shown was poured.
func (p *Pan) StandFilled() {
	p.Stand(0)
	p.vessel.Base = 0
}

// Untare says that what is in the container belongs to nothing yet.
func (p *Pan) Untare() { p.vessel.Untared = true }

// Tare makes the container count as tared, and gives the line that its weight rests
// on.
func (p *Pan) Tare() (raw string) {
	if p.Content() <= p.Steps(ZeroSlack) || p.vessel.raw == "" {
		p.vessel.raw = p.line.Raw
	} // else something was poured since the container alone was seen
	p.vessel.Untared = false
	return p.vessel.raw
}

// Rebase says that what stands there now is the container with nothing in it.
func (p *Pan) Rebase() {
	p.vessel.Base = p.line.Gross
	p.vessel.Weight = min(p.vessel.Weight, p.line.Gross)
	p.vessel.Slow, p.vessel.Clung = false, 0
	p.left = Remainder{}
}

// Lightest says that the container weighs no more than that.
func (p *Pan) Lightest(m protocol.Mass) { p.vessel.Weight = min(p.vessel.Weight, m) }

// Same says that the scale that speaks here is the one that was here before.
func (p *Pan) Same() { p.faces, p.other = faces{}, Other{} }

// Stays says that the container is on the pan and the pour goes on.
func (p *Pan) Stays() {
	p.state, p.most = Container, most{}
	p.gap.expects = false
}

// TakeUp says that the container counts as lifted.
func (p *Pan) TakeUp() { p.state = Lifted }

// Took says that a portion was taken; from here on the next one is poured.
func (p *Pan) Took() {
	p.state, p.key.Count, p.left, p.most = Container, 0, Remainder{}, most{}
	p.forgetMotion()
}

// PourFrom makes a gross weight the one at which the pour begins, with the line that
// says so; empty: as before.
func (p *Pan) PourFrom(base protocol.Mass, raw string) {
	p.vessel.Base, p.vessel.Clung = base, 0
	if raw != "" {
		p.vessel.raw = raw
	}
}

// Clings says that so much of what was tipped still clings in the container, and is part
// of this pour.
func (p *Pan) Clings(m protocol.Mass) { p.vessel.Clung = m }

// LeftBehind says what a tip seemed to leave in the container.
func (p *Pan) LeftBehind(r Remainder) { p.left = r }

// Forget says that nothing on the pan counts.
func (p *Pan) Forget() {
	p.state, p.gap.expects, p.vessel.Untared = Empty, false, false
}

// Reset is Forget for a batch that begins: no key that was only presumed counts.
func (p *Pan) Reset() {
	p.Forget()
	p.key.By, p.key.presumed = 0, false
}

// SetAside is Forget for a container that may come back.
func (p *Pan) SetAside() {
	p.Forget()
	p.prior = Prior{p.vessel.Weight, p.vessel.Base, p.lift.Before, p.lift.Raw}
}

// Mark notes what lies in the container now; Gained counts from here.
func (p *Pan) Mark() { p.vessel.Mark = max(p.Content(), 0) }

// Unmark has Gained count from the base.
func (p *Pan) Unmark() { p.vessel.Mark = 0 }

// Settle follows the mark down where some was taken out, and has Note begin anew.
func (p *Pan) Settle() {
	p.vessel.Noted = false
	p.vessel.Mark = min(p.vessel.Mark, max(p.Content(), 0))
}

// Note says that the caller has told of what came into the untared container.
func (p *Pan) Note() { p.vessel.Noted = true }

// Gap says that the scale fell silent: from here on the tare is unknown.
func (p *Pan) Gap(at time.Time) {
	p.judge(silent, look{})
	p.gap = gap{since: at, expect: p.gap.expect, expects: p.gap.expects, ran: p.gap.ran}
	p.prior, p.object, p.left = Prior{}, 0, Remainder{}
	p.line.Usable, p.line.Settled, p.most = false, false, most{}
	p.rest.forget()
	p.rest.left, p.rest.moved = time.Time{}, false
	p.lines.ok, p.lines.calm = false, false
	p.key.presumed, p.key.held, p.key.lines = false, 0, 0
	p.lift.Gapped, p.printed.known = true, false
	p.motion.burst = 0
	p.forgetMotion()
}

// Found says that the scale is heard again, and gives how long it was silent.
func (p *Pan) Found(at time.Time) time.Duration {
	d := at.Sub(p.gap.since)
	p.gap.since = time.Time{}
	return d
}

// TellLag says what the time constant of the scale's filter is; 0: it is learnt anew.
func (p *Pan) TellLag(d time.Duration) { p.lag = d }

// Tare is what a record says of the container that a pan was last tared with.
type Tare struct {
	Offsets                Offsets
	Weight, Base, In, Step protocol.Mass // In: what was last noted to lie in it
}

// Lift is what a record says of a container that was lifted.
type Lift struct {
	Offsets              Offsets
	Weight, Base, Before protocol.Mass
	Sure                 bool
	Raw                  string
}

// Restore puts a pan where its last tare left it, as unknown: nobody listened since.
func (p *Pan) Restore(t Tare) {
	p.state, p.step, p.offsets = Unknown, t.Step, t.Offsets
	p.faces.add(face{step: t.Step, places: -1})
	p.vessel.Weight, p.vessel.Base = t.Weight, t.Base
	p.gap.expect, p.gap.expects, p.gap.noted = t.Base+t.In, true, t.In != 0
}

// RestoreLift puts a pan where a lift left it.
func (p *Pan) RestoreLift(l Lift) {
	p.state, p.offsets = Lifted, l.Offsets
	p.vessel.Weight, p.vessel.Base = l.Weight, l.Base
	p.lift.Before, p.lift.Sure = l.Before, l.Sure
	p.gap.expects = false
	if l.Raw != "" {
		p.lift.Raw = l.Raw
	}
}
