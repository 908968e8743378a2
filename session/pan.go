package session

import (
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
)

// On says what stands on a pan.
type On uint8

// The beliefs. Unknown follows every gap: the tare counts for nothing until
// the pan, or a person, says otherwise.
const (
	Empty On = iota
	Container
	Lifted // the container was on, and is off
	Unknown
)

// Sizes in steps, and times, that tell hands apart. All are common practice
// with no source; each is tried in the tests that name it.
const (
	leastContainer = 10                     // steps; less than that is dust
	zeroSlack      = 5                      // steps around zero that still count as an empty pan
	sameSlack      = 2                      // steps within which two settled weights are the same
	liftDown       = 3 * time.Second        // how long a steady fall from rest may take to count as a lift
	liftMixed      = 400 * time.Millisecond // the same when the reading also went up
	staleAfter     = 2 * time.Second        // after which a reading says nothing of now
)

// sample is one reading as the flow needs it.
type sample struct {
	at time.Time
	g  protocol.Mass
}

// Pan is what the bench believes of one scale. Gross weights are what the
// scale shows plus Carried, so that they stand still when the scale's own tare
// key moves its zero.
type Pan struct {
	Name string
	Max  protocol.Mass
	Step protocol.Mass

	Link  scale.Link
	Why   string
	ID    scale.Identity
	Count scale.Counts

	On      On
	Carried protocol.Mass
	Weight  protocol.Mass // the container's own weight, gross
	Base    protocol.Mass // gross when this pour began: the container and what clings in it
	Before  protocol.Mass // gross before it was lifted
	Sure    bool          // Before was settled
	LiftRaw string

	Heard   bool          // a usable reading is in Gross
	Gross   protocol.Mass //
	Shown   protocol.Decimal
	Unit    protocol.Unit
	Status  protocol.Status
	Mode    protocol.Mode
	Settled bool
	At      time.Time
	Raw     string

	rest    protocol.Mass // last settled gross that nothing has contradicted
	restRaw string
	resting bool      // rest holds now
	hasRest bool      //
	away    time.Time // when the reading left rest
	rose    bool      // it went up since then
	plateau bool      // it stood still since then, or turned
	prev    protocol.Mass
	prevOK  bool

	ring  [24]sample
	ringN int

	prior   protocol.Mass // weight of a tared container that was taken off with nothing poured; 0: none
	unit    protocol.Unit // the unit so far, to notice the unit key
	lostAt  time.Time
	expect  protocol.Mass // gross before the gap
	expects bool          // expect is known
	keyed   protocol.Mass // amount that the tare key took, while that is only presumed
}

// happening is what a reading means for a pan.
type happening uint8

const (
	nothing     happening = iota
	put                   // a container stands on the empty pan, settled
	lifted                // the container left
	returned              // something stands on the pan again, settled
	keyed                 // the scale's own tare key took the load up
	emptied               // the container weighs less than when the pour began: it was emptied out
	cleared               // after a gap: the pan is empty and its zero known
	stands                // after a gap: something stands on the pan, settled
	unitChanged           // the unit key was pressed
)

// content is what was poured since the pour began.
func (p *Pan) content() protocol.Mass { return p.Gross - p.Base }

func (p *Pan) steps(n int) protocol.Mass { return protocol.Mass(n) * max(p.Step, 1) }

// hear takes one update into the pan and says what it means. It decides by
// this pan alone; whether a lift is a take is not its business.
func (p *Pan) hear(u scale.Update) happening {
	p.Link, p.ID, p.Count = u.Link, u.Identity, u.Counts
	p.Why = u.Why
	if !u.HasReading {
		return nothing
	}
	p.At, p.Status, p.Raw = u.At, u.Reading.Status, printable(u.Reading.Raw)
	p.Shown, p.Unit = u.Reading.Value, u.Reading.Unit
	if !u.HasMass {
		p.Heard, p.Settled, p.resting = false, false, false
		p.prevOK = false
		if u.Reading.Status == protocol.Error || u.Reading.Status == protocol.Invalid {
			return nothing // a bad line contradicts nothing
		}
		p.hasRest = false
		return nothing
	}
	was := p.unit
	p.unit = u.Reading.Unit
	p.Step = u.Step
	prevShown, prevMode := p.prev, p.Mode
	shown := u.Mass
	p.Mode = u.Reading.Mode

	if k := p.tareKey(u, prevShown, prevMode); k != 0 {
		p.Carried += k
		p.keyed = k
		p.take(u)
		p.prev, p.prevOK = shown, true
		return keyed
	}
	p.prev, p.prevOK = shown, true
	p.take(u)
	h := p.judge(u)
	if h == nothing && was != "" && was != p.unit {
		return unitChanged
	}
	return h
}

// take stores the reading and keeps the account of rest.
func (p *Pan) take(u scale.Update) {
	before := p.Gross
	had := p.Heard
	p.Gross, p.Settled, p.Heard = u.Mass+p.Carried, u.Settled, true
	p.ring[p.ringN%len(p.ring)] = sample{u.At, p.Gross}
	p.ringN++
	switch {
	case p.Settled:
		p.rest, p.restRaw, p.hasRest, p.resting = p.Gross, p.Raw, true, true
		p.away = time.Time{}
	case p.hasRest && (p.Gross-p.rest).Abs() <= p.Step && p.away.IsZero():
		// still within a step of rest
	case p.hasRest:
		if p.away.IsZero() {
			p.away, p.rose, p.plateau = u.At, p.Gross > p.rest, false
		} else if had && p.Gross >= before {
			p.plateau = true
			p.rose = p.rose || p.Gross > p.rest+p.Step
		}
		p.resting = false
	default:
		p.resting = false
	}
}

// tareKey tells whether the scale's own tare key was pressed between the last
// reading and this one, and how much it took. A lift ends at zero too, so it
// must be told apart: a scale that shows net or gross says it itself; for one
// that does not, a straight jump to zero from rest with nothing poured is the
// key, and with something in the container it is the lift that we asked for.
func (p *Pan) tareKey(u scale.Update, prev protocol.Mass, prevMode protocol.Mode) protocol.Mass {
	if !p.prevOK || u.Mass.Abs() > u.Step || (prev).Abs() < p.steps(leastContainer) {
		return 0
	}
	mode := u.Reading.Mode
	if mode == protocol.Net && prevMode == protocol.Gross {
		return prev
	}
	if mode == protocol.Gross && prevMode == protocol.Gross {
		return 0
	}
	if p.On == Container && p.resting && (p.Gross-p.Base).Abs() <= p.steps(sameSlack) && u.Reading.Stable != protocol.No && prev > 0 {
		return prev
	}
	return 0
}

// judge says what the reading just stored means.
func (p *Pan) judge(u scale.Update) happening {
	switch p.On {
	case Empty:
		if !p.Settled {
			return nothing
		}
		switch {
		case p.Gross >= p.steps(leastContainer):
			return put
		case p.Gross != 0:
			// An empty pan defines zero, also when the scale's zero was taken with
			// something on it that is gone now.
			p.Carried -= p.Gross
			p.rest, p.Gross = 0, 0
		}
	case Container:
		if p.keyed != 0 && p.wasNoKey() {
			p.Carried -= p.keyed
			p.Gross -= p.keyed
			p.rest = p.Gross
			p.keyed = 0
			return nothing
		}
		if p.Gross <= p.Weight/2 {
			p.liftOff(u.At)
			return lifted
		}
		if p.Settled && p.Gross < p.Base-p.Step {
			return emptied
		}
		if p.content() > p.steps(zeroSlack) && p.Settled {
			p.keyed = 0
		}
	case Lifted:
		if !p.Settled {
			return nothing
		}
		if p.Gross >= p.Weight/2 {
			return returned
		}
		if p.Gross != 0 && p.Gross.Abs() > p.steps(zeroSlack) && p.Gross < 0 {
			// Below zero with the container off: the tare key was pressed while it
			// stood there, and what was shown before the lift lacks that much.
			p.Before -= p.Gross
			p.Carried -= p.Gross
			p.rest, p.Gross = 0, 0
		}
	case Unknown:
		if !p.Settled {
			return nothing
		}
		if p.Gross < p.steps(leastContainer) {
			if p.Gross < -p.steps(zeroSlack) {
				// Something that was on the pan when the scale took its zero is off now.
				p.Carried -= p.Gross
				p.rest, p.Gross = 0, 0
			}
			return cleared
		}
		return stands
	}
	return nothing
}

// wasNoKey tells that a presumed tare key was a lift after all: the container's
// own weight is back in one jump.
func (p *Pan) wasNoKey() bool {
	if !p.Settled || (p.content()-p.keyed).Abs() > p.steps(sameSlack) {
		return false
	}
	// Poured matter takes its time; a container stands at once. Count the
	// readings between zero and full.
	between := 0
	for i := 1; i < min(p.ringN, len(p.ring)); i++ {
		g := p.ring[(p.ringN-1-i)%len(p.ring)].g - p.Base
		if g <= p.steps(sameSlack) {
			break
		}
		if g < p.keyed-p.steps(sameSlack) {
			between++
		}
	}
	return between <= 3
}

// liftOff notes the lift: what stood there before it, and whether that was at rest.
func (p *Pan) liftOff(at time.Time) {
	p.On = Lifted
	limit := liftDown
	if p.rose || p.plateau {
		limit = liftMixed
	}
	p.Sure = p.hasRest && (p.away.IsZero() || at.Sub(p.away) <= limit)
	p.Before, p.LiftRaw = p.rest, p.restRaw
	if !p.Sure {
		p.Before = p.peak()
		p.LiftRaw = p.restRaw
	}
	p.hasRest, p.resting = false, false
}

// peak is the highest of the last readings: the best that is known of a load
// that was lifted before it came to rest.
func (p *Pan) peak() protocol.Mass {
	m := p.Base
	for i := range min(p.ringN, len(p.ring)) {
		m = max(m, p.ring[i].g)
	}
	return m
}

// stand makes what is on the pan now the container of the next pour.
func (p *Pan) stand(weight protocol.Mass) {
	p.On, p.Weight, p.Base = Container, weight, p.Gross
	p.expects, p.lostAt = false, time.Time{}
	p.prior = 0
	p.ringN = 0
}

// gap opens a gap: from here on the tare is unknown.
func (p *Pan) gap(at time.Time) {
	if p.On == Container || p.On == Unknown {
		if p.On == Container {
			p.expect, p.expects = p.Gross, p.Heard || p.hasRest
			if p.hasRest && p.away.IsZero() {
				p.expect = p.rest
			}
		}
		p.On = Unknown
	}
	p.lostAt, p.prior = at, 0
	p.Heard, p.Settled, p.resting, p.hasRest, p.prevOK = false, false, false, false, false
	p.keyed = 0
	p.ringN = 0
}

// flow is the slope of the last second in nanograms a second; 0 when unknown.
func (p *Pan) flow() protocol.Mass {
	n := min(p.ringN, len(p.ring))
	if n < 3 {
		return 0
	}
	last := p.ring[(p.ringN-1)%len(p.ring)]
	first := last
	for i := 1; i < n; i++ {
		s := p.ring[(p.ringN-1-i)%len(p.ring)]
		if last.at.Sub(s.at) > time.Second {
			break
		}
		first = s
	}
	dt := last.at.Sub(first.at)
	if dt < 100*time.Millisecond {
		return 0
	}
	return protocol.Mass(int64(last.g-first.g) / dt.Milliseconds() * 1000)
}

// live tells whether the pan says something about this moment.
func (p *Pan) live(now time.Time) bool {
	return p.Link == scale.Up && p.Heard && now.Sub(p.At) <= staleAfter
}

// restore puts a pan where the facts left it, as unknown: the daemon was away.
func (p *Pan) restore(b *Batch) {
	t, ok := b.Tares[p.Name]
	if !ok {
		return
	}
	p.Carried, p.Weight, p.Base = t.Carried, t.Weight, t.Container
	p.Step = t.Step
	if b.Lift != nil && b.Lift.Scale == p.Name {
		p.lift(*b.Lift)
		return
	}
	p.On, p.expect, p.expects = Unknown, t.Container, true
}

func (p *Pan) lift(l fact.Lifted) {
	p.On, p.Before, p.Sure = Lifted, l.Before, l.Settled
	p.Weight, p.Base, p.Carried = l.Empty, l.Base, l.Carried
	if len(l.Raw) > 0 {
		p.LiftRaw = l.Raw[0]
	}
}

// printable writes a frame so that a person can read it and nothing is lost:
// printable ASCII as it is, all else as \xNN.
func printable(b []byte) string {
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
