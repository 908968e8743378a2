// Package pan judges what stands on the pan of one scale: from one reading to the
// next it tells a container that is put on, lifted, tipped and put back from powder
// that is poured, from a hand that leans, from the scale's own tare key, and from a
// gap in which anything may have happened. It knows no batch and no recipe.
//
// The words: a Pan takes each scale.Update by Hear, which says with an Event what
// the reading means; On says what is believed to stand there. Print-key scales have
// a judgement of their own in print.go, and trace.go thins a pour to the few points
// that the record keeps. Begin at Pan.Hear.
package pan

import (
	"math"
	"time"

	"tared/protocol"
	"tared/scale"
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
	LeastContainer = 10                         // steps; less than that is dust ...
	lightest       = 400 * protocol.Gram / 1000 // ... and so is this: a small weighing boat has more
	ZeroSlack      = 5                          // steps around zero that still count as an empty pan
	SameSlack      = 2                          // steps within which two settled weights are the same
	creep          = 30                         // steps by which a zero may have crept away, where no key did it
	liftDown       = 3 * time.Second            // how long a steady fall from rest may take to count as a lift
	liftMixed      = 400 * time.Millisecond     // the same when the reading also went up
	longestEcho    = 800 * time.Millisecond     // a converter that takes longer is none of a scale
	StaleAfter     = 2 * time.Second            // after which a reading says nothing of now
	calmLines      = 350 * time.Millisecond     // farther apart, two lines cannot show that nothing moved between them
	sharpTime      = time.Second                // a container stands on the pan within that, also through a slow filter
	sharpPercent   = 40                         // of its weight; powder that is poured comes slower
	heldLines      = 2                          // more at zero that make a small jump to zero a key
	flowTime       = 500 * time.Millisecond     // over which the flow is judged
	flowLongest    = 2 * time.Second            // the same for a scale that speaks slowly
	lumpTime       = 300 * time.Millisecond     // within which a lump comes through a filter, most of it
	lumpsFor       = 2 * time.Second            // how long it is remembered
	UsualLag       = 250 * time.Millisecond     // of a filter, until the scale has shown its own
	longestLag     = 2 * time.Second            // more is no filter
	leastForLag    = 300                        // steps of a container that shows a lag
	sampleEvery    = 40 * time.Millisecond      // of the trace that flow and sharpness are read from
)

// Prior is a container that left the pan with nothing poured into it since it
// was tared; the zero value is none.
type Prior struct {
	Weight, Base, Before protocol.Mass
	Raw                  string
}

// remainder is what came back in a container beyond what clings: powder, a
// thing that lies on the pan beside it, or the weight of another container.
type Remainder struct {
	Of     uint64        // the portion
	Amount protocol.Mass // zero: none
	Slack  protocol.Mass
	Base   protocol.Mass // of the pour that was tipped
}

// stopped is where the pour stood when the bench said stop.
type Stopped struct {
	In, Flow protocol.Mass
}

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

	Rest    protocol.Mass // last settled gross that nothing has contradicted
	RestRaw string
	Resting bool          // rest holds now
	hasRest bool          //
	away    time.Time     // when the reading left rest
	rose    bool          // it went up since then
	plateau bool          // it stood still since then, or turned
	prev    protocol.Mass // last shown
	prevOK  bool
	prevAt  time.Time
	since   time.Time     // when it began to say so
	jumped  protocol.Mass // by so much from the one before, if it was far
	echo    time.Duration // how long it says one conversion again and again; 0: not seen

	Lag     time.Duration // time constant of the scale's filter, learnt from its containers; 0: not yet
	Told    Stopped       // the last "stop" of this pour
	ring    [128]sample
	RingN   int
	Trace   trace         // of this pour
	burst   protocol.Mass // the most that it rose within sharpTime since it left rest
	top     protocol.Mass // the highest since it left rest
	low     protocol.Mass // the lowest since the container was lifted and since it rested then
	blind   bool          // it did not leave from a rest that is known
	calm    bool          // the last two lines said the same, or the last one called itself stable
	Beside  bool          // the container stands there out of turn, and is tared for nothing yet
	Warned  bool          // and what came into it was told of
	Grew    bool          // and it came as slowly as powder, so there may be some in it
	Idle    protocol.Mass // what lay in it when the step in work began
	BaseRaw string        // the line that Base rests on

	seen  bool // the container was seen coming: a line between the empty pan and its rest
	moved bool // a line that was not at rest came since the last rest
	came  bool // and between the last two rests

	away0    bool          // after a gap: shows zero, which may be an empty pan or a tared container
	Proven   bool          // after a gap: the pan was seen empty, so its zero is known
	Gapped   bool          // there was a gap since the container was lifted
	Rested   bool          // it came to rest since the container was lifted
	Astray   protocol.Mass // what the empty pan showed then: the zero has drifted by it
	Left     Remainder     // what a tip seemed to leave in the container
	thing    protocol.Mass // what else lies on the pan, as far as the lift of the container showed it
	Prior    Prior         // a container that was taken off with nothing poured
	unit     protocol.Unit // the unit so far, to notice the unit key
	LostAt   time.Time
	Expect   protocol.Mass // gross before the gap
	Expects  bool          // expect is known
	Keyed    protocol.Mass // amount that a key of the scale took last
	Keys     int           // pressed since the weight before this pour was read
	held     protocol.Mass // a small jump to zero that may be a key
	heldN    int           // lines since then
	keyAt    protocol.Mass // gross when it did
	keyRaw   string
	presumed bool // and that it was a key is only presumed

	Print    bool          // the scale speaks on its print key only; see print.go
	print    protocol.Mass // gross of its last frame at rest
	printRaw string
	printOK  bool
}

// happening is what a reading means for a pan.
type Event uint8

const (
	None          Event = iota
	PutOn               // a container stands on the empty pan, settled
	TakenOff            // the container left
	PutBack             // something stands on the pan again, settled
	KeyPressed          // the scale's own tare key took the load up
	EmptiedOut          // the container weighs less than when the pour began: it was emptied out
	SeenEmpty           // after a gap: the pan is empty and its zero known
	Standing            // after a gap: something stands on the pan, settled
	KeyWasLift          // what was taken for the scale's own tare key was a lift, and the container is back
	LiftWasKey          // what was taken for a lift was the scale's own tare key
	RemainderGone       // what seemed to be left in the container left the pan at once
	CameSlowly          // something came onto the empty pan as slowly as powder, settled
	UnitChanged         // the unit key was pressed
	TippedUnseen        // on a print-key scale: the container was tipped and is back
	PartlyTipped        // the same, and much is still in it
)

// content is what was poured since the pour began.
func (p *Pan) Content() protocol.Mass { return p.Gross - p.Base }

// gained is what came into the container on a scale since the step in work began.
func (p *Pan) Gained() protocol.Mass { return p.Content() - p.Idle }

// least is the least that can be a container.
func (p *Pan) Least() protocol.Mass { return max(p.Steps(LeastContainer), lightest) }

func (p *Pan) Steps(n int) protocol.Mass { return protocol.Mass(n) * max(p.Step, 1) }

// hear takes one update into the pan and says what it means. It decides by
// this pan alone; whether a lift is a take is not its business.
func (p *Pan) Hear(u scale.Update) Event {
	p.Link, p.ID, p.Count = u.Link, u.Identity, u.Counts
	p.Why, p.Print = u.Why, u.Print
	if !u.HasReading {
		return None
	}
	p.At, p.Status, p.Raw = u.At, u.Reading.Status, Printable(u.Reading.Raw)
	p.Shown, p.Unit = u.Reading.Value, u.Reading.Unit
	if !u.HasMass {
		p.Heard, p.Settled, p.Resting = false, false, false
		p.prevOK = false
		if u.Reading.Status == protocol.Error || u.Reading.Status == protocol.Invalid {
			return None // a bad line contradicts nothing
		}
		p.hasRest = false
		return None
	}
	was := p.unit
	p.unit = u.Reading.Unit
	p.Step = u.Step
	p.repeats(u)
	k, presumed, key := p.tareKey(u)
	if key {
		p.keyAt, p.keyRaw = p.Gross, p.RestRaw
		p.Carried += k
		p.Keyed, p.presumed = k, presumed
		p.Keys++
		p.Rest, p.Resting = p.Gross, p.Resting && p.hasRest
	}
	p.Mode = u.Reading.Mode
	p.take(u)
	h := p.judge(u)
	p.calm = u.Reading.Stable == protocol.Yes || p.prevOK && (u.Mass-p.prev).Abs() <= p.Step && p.standing(u.At)
	p.prev, p.prevOK, p.prevAt = u.Mass, true, u.At
	switch {
	case key && (h == None || h == PutOn):
		return KeyPressed
	case h == None && was != "" && was != p.unit:
		return UnitChanged
	}
	return h
}

// take stores the reading and keeps the account of rest and of motion.
func (p *Pan) take(u scale.Update) {
	before := p.Gross
	had, was := p.Heard, !p.away.IsZero() || !p.hasRest
	p.Gross, p.Settled, p.Heard = u.Mass+p.Carried, u.Settled, true
	if n := p.RingN; n == 0 || u.At.Sub(p.ring[(n-1)%len(p.ring)].at) >= sampleEvery {
		p.ring[n%len(p.ring)] = sample{u.At, p.Gross}
		p.RingN++
	}
	if p.On == Container {
		p.Trace.add(u.At, p.Gross)
	}
	switch {
	case p.Settled:
		p.came = p.moved
		if !p.hasRest && p.away.IsZero() {
			p.blind = true
		}
		p.climb(u.At, before)
		p.Rest, p.RestRaw, p.hasRest, p.Resting = p.Gross, p.Raw, true, true
		p.away, p.moved = time.Time{}, false
	case p.hasRest && (p.Gross-p.Rest).Abs() <= p.Step && p.away.IsZero():
		// still within a step of rest
	default:
		if p.away.IsZero() {
			p.away, p.rose, p.plateau = u.At, p.hasRest && p.Gross > p.Rest, false
			p.burst, p.top, p.blind = 0, p.Gross, !p.hasRest
		} else if had && p.Gross >= before {
			p.plateau = p.plateau || p.Gross > before || p.standing(u.At)
			p.rose = p.rose || p.Gross > p.Rest+p.Step
		}
		p.climb(u.At, before)
		if u.Late {
			p.blind = true // what came since the line before was not seen coming
		}
		p.Resting = false
		// A line on its way from one rest to another: the one before it had left
		// already, and this one is elsewhere again.
		if was && had && (p.Gross-before).Abs() > p.Steps(SameSlack) {
			p.moved = true
		}
	}
}

// repeats learns whether the scale says each weight some times over, for its
// converter is slower than its line: equal lines with a leap of the same direction
// before and after them. Such lines are not at rest.
func (p *Pan) repeats(u scale.Update) {
	if !p.prevOK {
		p.since, p.jumped = u.At, 0
		return
	}
	by := u.Mass - p.prev
	if by == 0 {
		return
	}
	far := by.Abs() >= p.Steps(LeastContainer)
	if ran := u.At.Sub(p.since); far && p.prevAt.After(p.since) && ran <= longestEcho && (by > 0 && p.jumped > 0 || by < 0 && p.jumped < 0) {
		p.echo = max(p.echo, ran)
	}
	if p.since, p.jumped = u.At, 0; far {
		p.jumped = by
	}
}

// standing tells that equal lines are more than one conversion said twice.
func (p *Pan) standing(at time.Time) bool { return at.Sub(p.since) >= p.echo }

// climb keeps how much the reading rose within sharpTime, or from one line to
// the next where the lines come slower.
func (p *Pan) climb(at time.Time, before protocol.Mass) {
	p.top, p.low = max(p.top, p.Gross), min(p.low, p.Gross)
	low := min(p.Gross, before)
	for i := 1; i <= min(p.RingN, len(p.ring)); i++ {
		s := p.ring[(p.RingN-i)%len(p.ring)]
		if at.Sub(s.at) > sharpTime {
			break
		}
		low = min(low, s.g)
	}
	p.burst = max(p.burst, p.Gross-low)
}

// Rises reports whether the load came up, and not down, from its last rest.
func (p *Pan) Rises() bool {
	if p.Settled {
		return p.burst > p.Steps(SameSlack)
	}
	return p.Gross >= p.Rest
}

// Unseen reports whether the pan came to its load with no line to tell how: a line
// was read late, or it had not rested before.
func (p *Pan) Unseen() bool { return p.blind }

// Sharp reports whether a rise of so much came at once, as a container does, and
// not little by little, as powder does.
// When the rise was not seen from its beginning it counts as a container.
func (p *Pan) Sharp(rise protocol.Mass) bool { return p.blind || p.burst*100 >= rise*sharpPercent }

// tareKey tells whether a key of the scale moved its zero between the last
// reading and this one, and by how much. presumed says that it could have been
// hands as well; later readings show it.
//
// A key changes what is shown and not what lies on the pan: from rest, at once,
// to zero exactly. Hands take a container to zero, too, and put one back to zero
// when the scale was tared with it, but are seen at it: some lines are on the way.
// Where this scale has shown such lines before, their absence tells. A scale that
// says net or gross tells itself.
func (p *Pan) tareKey(u scale.Update) (by protocol.Mass, presumed, yes bool) {
	if p.Print || !p.prevOK || p.On == Unknown || u.At.Sub(p.prevAt) > calmLines*3 {
		return 0, false, false
	}
	load := p.prev + p.Carried
	if p.Resting {
		load = p.Rest
	}
	by = load - p.Carried - u.Mass
	mode := u.Reading.Mode
	if mode != p.Mode && mode != protocol.ModeUnsaid && p.Mode != protocol.ModeUnsaid && by != 0 {
		// Gross to net, or back. What lay there lies there still, unless hands were
		// at it in the same moment.
		return by, false, mode == protocol.Net || p.calm
	}
	straight := p.calm && u.At.Sub(p.prevAt) <= calmLines
	if p.held != 0 {
		// A jump to zero a moment ago: hands would have gone on.
		if p.heldN++; u.Mass.Abs() > u.Step {
			p.held, p.heldN = 0, 0
		} else if p.heldN == heldLines {
			by, p.held, p.heldN = p.held, 0, 0
			return by, false, true
		}
		return 0, false, false
	}
	tared := p.Carried.Abs() >= p.Steps(LeastContainer) && p.On == Container // a lift would go below zero
	seen := p.seen || p.On != Container && p.moved
	small := by.Abs() < p.Steps(LeastContainer)
	unsteady := u.Reading.Stable == protocol.No
	bothGross := mode == protocol.Gross && p.Mode == protocol.Gross
	if u.Mass == 0 && straight && by.Abs() > p.Steps(SameSlack) && (tared || seen && !unsteady && small) && (small || unsteady) {
		p.held, p.heldN = by, 0
		return 0, false, false
	}
	switch {
	case u.Mass.Abs() > u.Step || small || unsteady:
		return 0, false, false
	case straight && tared:
		return by, false, true
	case straight && seen:
		return by, true, true
	case bothGross:
		return 0, false, false
	}
	if p.On == Container && p.Resting && (p.Gross-p.Base).Abs() <= p.Steps(SameSlack) && p.prev > 0 {
		return by, true, true
	}
	return 0, false, false
}

// judge says what the reading just stored means.
func (p *Pan) judge(u scale.Update) Event {
	if p.Print {
		return p.printed(u)
	}
	switch p.On {
	case Empty:
		if !p.Settled {
			return None
		}
		switch {
		case p.Gross >= p.Least() && !p.Sharp(p.Gross):
			return CameSlowly
		case p.Gross >= p.Least():
			p.seen = p.came
			if p.came {
				p.learnLag(p.Gross)
			}
			return PutOn
		case p.Gross != 0:
			// An empty pan defines zero, also when the scale's zero was taken with
			// something on it that is gone now.
			p.zero()
		}
	case Container:
		if p.presumed && p.Settled && u.Mass >= p.Steps(LeastContainer) {
			// Had it been a lift, so much would stand there now.
			back := p.Gross - p.Keyed
			near := max(p.Steps(3), (p.keyAt-p.Base)/20)
			if p.presumed = false; p.Sharp(u.Mass) && ((back-p.Base).Abs() <= near || (back-p.keyAt).Abs() <= p.Steps(3)) {
				p.Carried -= p.Keyed
				p.Gross, p.Rest = back, back
				p.Keys = max(p.Keys-1, 0)
				p.Before, p.LiftRaw, p.Sure = p.keyAt, p.keyRaw, true
				return KeyWasLift
			}
		}
		if p.Left.Amount != 0 && p.Settled && (p.Gross-p.Left.Base).Abs() <= p.Left.Slack {
			return RemainderGone
		}
		if p.gone() {
			p.liftOff(u.At)
			return TakenOff
		}
		if p.Settled && p.Gross < p.Base-p.Step {
			if p.thing != 0 && (p.Base-p.Gross-p.thing).Abs() <= p.Steps(3) {
				// What lay beside the container was taken away.
				p.Carried += p.Base - p.Gross
				p.Gross, p.Rest, p.thing = p.Base, p.Base, 0
				return None
			}
			return EmptiedOut
		}
	case Lifted:
		if !p.Settled {
			return None
		}
		first := !p.Rested
		if p.Rested = true; first {
			defer func() { p.top = 0 }()
		}
		low0 := p.low
		p.low = p.Gross
		// A key takes the display to zero. Where it never was there, the container left
		// while something leant on the pan.
		poured := !p.Sharp(p.Gross) && (!first || low0 <= p.Steps(ZeroSlack))
		if p.Gapped {
			if p.doubtful(u) {
				return None
			}
			if !p.Proven && p.Gross >= p.Steps(LeastContainer) {
				return None // its zero may be another one since: the empty pan must be seen
			}
			p.Proven = true
		}
		if back := p.Gross + p.Before; !p.Gapped && (low0+p.Before).Abs() <= max(p.Steps(3), p.Before/50) && p.Before >= p.Least() &&
			back >= p.Weight/2 && p.Gross < p.Steps(LeastContainer) {
			// As far below zero as what was lifted weighed, and up again without a rest: a
			// key took just that up in the moment of the lift, and this is the container back.
			p.Carried += p.Before
			p.Gross, p.Rest = back, back
			return PutBack
		}
		switch {
		case p.Gross >= p.Weight/2 && p.Gross >= p.Steps(LeastContainer):
			if poured {
				return LiftWasKey
			}
			p.seen = p.came
			if p.came && low0.Abs() <= p.Steps(ZeroSlack) {
				p.learnLag(p.Gross)
			}
			p.Astray = 0
			if !first && low0.Abs() <= p.Steps(ZeroSlack) {
				p.Astray = low0
			}
			if low0 < -p.Steps(creep) {
				// It went below an empty pan and did not rest there: a key was pressed in
				// the very moment of the lift, and how much it took is known roughly only.
				p.Carried -= low0
				p.Gross -= low0
				p.Rest, p.Sure = p.Gross, false
			}
			return PutBack
		case p.Gross >= p.Steps(LeastContainer) && first && low0 >= p.Gross-p.Steps(ZeroSlack):
			// The container went and this stayed: it lay there before, too.
			p.thing = p.Gross
			p.Before -= p.Gross
			p.zero()
		case p.Gross >= p.Steps(LeastContainer) && poured:
			return LiftWasKey
		case p.Gross >= p.Least() && low0.Abs() <= p.Steps(ZeroSlack):
			// Much lighter than what was lifted: another container, or a thing that was
			// laid on the empty pan. Powder poured into it would look like a key.
			return PutBack
		case p.Gross < -p.Steps(ZeroSlack):
			// Below zero with the container off: a key was pressed while it stood there.
			switch low := -p.Gross; {
			case p.Gapped:
				// Zero was taken anew in the gap, with the container on.
			case !first && (low-p.Before).Abs() <= p.Steps(3):
				// What was taken for the lift was the key; this is the lift.
				if p.top > p.Steps(LeastContainer) {
					p.Before, p.Sure = low+p.top, false
				}
			case first:
				// It was not seen, and what was shown before the lift lacks that much.
				p.Before += low
			case low >= p.Weight/2:
				// The container came back, was tared by the key before it was weighed, and
				// is off again. The key weighed it.
				p.zero()
				p.Gross, p.Rest, p.hasRest = low, low, true
				return PutBack
			}
			p.zero()
		}
	case Unknown:
		if !p.Settled || p.doubtful(u) {
			return None
		}
		if p.Gross < p.Steps(LeastContainer) {
			if p.Gross < -p.Steps(ZeroSlack) {
				// Something that was on the pan when the scale took its zero is off now.
				p.zero()
			}
			p.Proven = true
			return SeenEmpty
		}
		return Standing
	}
	return None
}

// zero makes what is shown now the zero of an empty pan. Where it is little the
// zero has crept, and what was weighed last crept with it.
func (p *Pan) zero() {
	if by := -p.Gross; by.Abs() < p.Steps(creep) {
		p.Base += by
		p.Weight += by
		if p.Prior != (Prior{}) {
			p.Prior.Base += by
			p.Prior.Weight += by
			p.Prior.Before += by
		}
	}
	p.Carried -= p.Gross
	p.Rest, p.Gross = 0, 0
	p.RingN, p.Trace.N = 0, 0
}

// gone tells that the container left the pan.
func (p *Pan) gone() bool {
	if p.Weight < p.Steps(LeastContainer) { // its own weight is not known
		return p.Gross < -p.Steps(LeastContainer)
	}
	return p.Gross <= p.Weight/2
}

// doubtful tells, after a gap, that the reading proves nothing because the
// scale's own tare may have been lost in it: zero is then an empty pan, and else
// a container that was tared. The next thing that moves tells which.
func (p *Pan) doubtful(u scale.Update) bool {
	if p.Proven || p.Carried.Abs() < p.Steps(LeastContainer) {
		p.away0 = false
		return false
	}
	switch {
	case u.Mass <= -p.Steps(LeastContainer):
		p.Carried, p.Gross, p.Rest = -u.Mass, 0, 0 // less than nothing is an empty pan
	case u.Mass.Abs() <= p.Steps(ZeroSlack):
		p.away0 = true
		return true
	case p.away0 && u.Mass > 0, p.Expects && (u.Mass-p.Expect).Abs() <= p.Steps(SameSlack):
		// It was an empty pan, or it shows the whole weight again: the tare is lost.
		p.Carried, p.Gross, p.Rest = 0, u.Mass, u.Mass
	}
	p.away0 = false
	return false
}

// liftOff notes the lift: what stood there before it, and whether that was at rest.
func (p *Pan) liftOff(at time.Time) {
	p.On = Lifted
	limit := liftDown
	if p.rose || p.plateau {
		limit = liftMixed
	}
	p.Sure = p.hasRest && (p.away.IsZero() || at.Sub(p.away) <= limit)
	p.Before, p.LiftRaw = p.Rest, p.RestRaw
	if !p.Sure {
		p.Before = p.peak()
		p.LiftRaw = p.RestRaw
	}
	p.Trace.fall(p.Before - p.Steps(SameSlack))
	p.hasRest, p.Resting = false, false
	p.Gapped, p.Rested = false, false
	p.top, p.low = 0, p.Gross
}

// peak is the highest of the last readings: the best that is known of a load
// that was lifted before it came to rest.
func (p *Pan) peak() protocol.Mass {
	m := p.Base
	for i := range min(p.RingN, len(p.ring)) {
		m = max(m, p.ring[i].g)
	}
	return m
}

// stand makes what is on the pan now the container of the next pour.
func (p *Pan) Stand(weight protocol.Mass) {
	p.On, p.Weight, p.Base = Container, weight, p.Gross
	p.Expects, p.LostAt, p.Proven = false, time.Time{}, false
	p.Beside, p.Warned, p.Grew, p.Idle, p.BaseRaw = false, false, false, 0, p.Raw
	p.Prior, p.thing, p.Keys, p.Left, p.Told = Prior{}, 0, 0, Remainder{}, Stopped{}
	p.RingN, p.Trace.N = 0, 0
}

// gap opens a gap: from here on the tare is unknown.
func (p *Pan) Gap(at time.Time) {
	if p.On == Container || p.On == Unknown {
		if p.On == Container {
			p.Expect, p.Expects = p.Gross, p.Heard || p.hasRest
			if p.hasRest && p.away.IsZero() {
				p.Expect = p.Rest
			}
		}
		p.On = Unknown
	}
	p.LostAt, p.Prior, p.thing, p.Left = at, Prior{}, 0, Remainder{}
	p.Heard, p.Settled, p.Resting, p.hasRest, p.prevOK = false, false, false, false, false
	p.presumed, p.Proven, p.away0, p.Gapped, p.calm = false, false, false, true, false
	p.held, p.heldN, p.printOK = 0, 0, false
	p.away, p.moved, p.burst = time.Time{}, false, 0
	p.RingN, p.Trace.N = 0, 0
}

// flow is the slope of the last moments in nanograms a second; 0 when unknown.
// It is the line of least squares through half a second of readings, through more
// where they come slowly: one tap or one step of the display then moves it little,
// and an eased pour is seen soon.
func (p *Pan) Flow() protocol.Mass {
	n := min(p.RingN, len(p.ring))
	if n < 3 {
		return 0
	}
	at := func(i int) sample { return p.ring[(p.RingN-1-i)%len(p.ring)] }
	last := at(0)
	k := 1
	for k < n && (k < 3 || last.at.Sub(at(k).at) <= flowTime) && last.at.Sub(at(k).at) <= flowLongest {
		k++
	}
	// Times in milliseconds before the last, masses less the last: the sums stay
	// small. Σ(t-t̄)(m-m̄) / Σ(t-t̄)².
	var st, sm, stt, stm int64
	for i := range k {
		s := at(i)
		t, m := -last.at.Sub(s.at).Milliseconds(), int64(s.g-last.g)/1000
		st, sm, stt, stm = st+t, sm+m, stt+t*t, stm+t*m
	}
	d := int64(k)*stt - st*st
	if k < 2 || d <= 0 {
		return 0
	}
	return protocol.Mass((int64(k)*stm - st*sm) / d * 1000 * 1000)
}

// lump is how much more than its share came at once of late: the largest rise
// within lumpTime over those just before and just after it. Powder that runs evenly
// has none, also when it is eased; of powder that falls in lumps it is about one.
func (p *Pan) Lump() (most protocol.Mass) {
	n := min(p.RingN, len(p.ring))
	at := func(i int) sample { return p.ring[(p.RingN-1-i)%len(p.ring)] }
	// rise gives what came in the lumpTime that ends with sample i, and where that began.
	rise := func(i int) (protocol.Mass, int) {
		for j := i + 1; j < n; j++ {
			if at(i).at.Sub(at(j).at) >= lumpTime {
				return at(i).g - at(j).g, j
			}
		}
		return 0, -1
	}
	next, from := rise(0)
	for i := from; i >= 0 && i < n && at(0).at.Sub(at(i).at) <= lumpsFor; {
		here, j := rise(i)
		if j < 0 {
			break
		}
		before, k := rise(j)
		if k < 0 {
			break
		}
		most = max(most, here-max(before, next))
		next, i = here, j
	}
	return most
}

// every is the time between two lines, as the last second shows it.
func (p *Pan) Every() time.Duration {
	n := min(p.RingN, len(p.ring), 8)
	if n < 2 {
		return 0
	}
	last, first := p.ring[(p.RingN-1)%len(p.ring)], p.ring[(p.RingN-n)%len(p.ring)]
	return min(last.at.Sub(first.at)/time.Duration(n-1), flowLongest)
}

// learnLag reads the time constant of the scale's filter off a container that has
// just come to rest. From 90 % of its weight on the hand has let go and the filter
// alone goes on: what is still missing falls by a factor e in each time constant.
func (p *Pan) learnLag(weight protocol.Mass) {
	if weight < p.Steps(leastForLag) {
		return
	}
	var from, to sample
	for i := min(p.RingN, len(p.ring)) - 1; i >= 0; i-- {
		s := p.ring[(p.RingN-1-i)%len(p.ring)]
		missing := weight - s.g
		if missing < p.Steps(10) || missing > weight/10 {
			continue // too near to be read, or the hand is still there
		}
		if from.at.IsZero() {
			from = sample{s.at, missing}
		}
		to = sample{s.at, missing}
	}
	if from.at.IsZero() || to.g*2 > from.g {
		return
	}
	// A time is no weight, so floats may do.
	tau := to.at.Sub(from.at).Seconds() / math.Log(float64(from.g)/float64(to.g))
	lag := min(time.Duration(tau*float64(time.Second)), longestLag)
	if p.Lag == 0 {
		p.Lag = lag
		return
	}
	p.Lag += (lag - p.Lag) / 3
}

// Delay gives the filter's time constant as far as it is known.
func (p *Pan) Delay() time.Duration {
	if p.Lag == 0 {
		return UsualLag
	}
	return p.Lag
}

// live tells whether the pan says something about this moment.
func (p *Pan) Live(now time.Time) bool {
	return p.Link == scale.Up && p.Heard && (p.Print || now.Sub(p.At) <= StaleAfter)
}

// Tare is what a record says of the container that a pan was last tared with.
type Tare struct {
	Carried, Weight, Base, Step protocol.Mass
}

// Lift is what a record says of a container that was lifted.
type Lift struct {
	Carried, Weight, Base, Before protocol.Mass
	Sure                          bool
	Raw                           string
}

// restore puts a pan where its last tare left it, as unknown: the daemon was away.
func (p *Pan) Restore(t Tare) {
	p.Carried, p.Weight, p.Base, p.Step = t.Carried, t.Weight, t.Base, t.Step
	p.On, p.Expect, p.Expects = Unknown, t.Base, true
}

// restoreLift puts a pan where a lift left it.
func (p *Pan) RestoreLift(l Lift) {
	p.Expects, p.Expect = false, 0
	p.On, p.Before, p.Sure = Lifted, l.Before, l.Sure
	p.Weight, p.Base, p.Carried = l.Weight, l.Base, l.Carried
	if l.Raw != "" {
		p.LiftRaw = l.Raw
	}
}

// printable writes a frame so that a person can read it and nothing is lost:
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
