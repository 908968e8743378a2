package pan

// State is what is believed to stand on a pan.
type State uint8

// The states. Unknown follows every gap: the tare counts for nothing until the pan,
// or a person, says otherwise. A print-key scale has the same states and rows of its
// own; a scale that sleeps is one that fell silent.
const (
	Empty     State = iota
	Container       //
	Lifted          // the container was on, and is off
	Unknown         // a container was on before a gap
	lostZero        // lifted, and there was a gap since: the empty pan must be seen; On says Lifted

	stay // of a row: the state does not change
)

// Event is what a reading means.
type Event uint8

// The events.
const (
	None          Event = iota
	PutOn               // a container stands on the empty pan, settled
	CameSlowly          // the same, and it came as slowly as powder
	TakenOff            // the container left
	PutBack             // something stands on the pan again, settled
	FellUnseen          // most of what was poured is gone, and no lift was seen
	EmptiedOut          // the container weighs less than when the pour began
	RemainderGone       // what seemed to be left in the container left the pan at once
	KeyPressed          // the scale's own tare key took the load up
	KeyWasLift          // what was taken for the key was a lift, and the container is back
	LiftWasKey          // what was taken for a lift was the key
	ZeroLost            // the key was pressed while the load moved: the tare is unknown, as after a gap
	SeenEmpty           // after a gap: the pan is empty and its zero known
	Standing            // after a gap: something stands on the pan, settled
	TippedUnseen        // on a print-key scale: the container was tipped and is back
	PartlyTipped        // the same, and much is still in it
	UnitChanged         // the unit key was pressed
)

// sight is what a reading shows, before anybody asks what it means.
type sight uint8

const (
	nothing     sight = iota
	moving            // a weight that has not settled
	settled           // one that has
	printed           // a frame of a print-key scale, at rest
	keySeen           // the tare key was pressed
	keyPresumed       // it looks so
	keyMoving         // it was pressed while the load moved, or the display was held: what it took is not known
	silent            // the scale is not heard any more
)

// row is one transition: the first one that fits is taken.
type row struct {
	name string
	in   []State
	on   sight
	when func(p *Pan, l look) bool // nil: always
	do   func(p *Pan, l look)      // nil: nothing
	next State
	emit Event
}

var rows = []row{
	// nothing on the pan
	{"a container comes like powder", in(Empty), settled, comesSlowly, nil, Empty, CameSlowly},
	{"a container comes", in(Empty), settled, heavy, arrive, Empty, PutOn},
	{"a container comes back to a key's zero", in(Empty), settled, fromBelow, zeroBelow, Empty, PutOn},
	{"an empty pan defines zero", in(Empty), settled, offZero, zeroEmpty, Empty, None},

	// a container
	{"the presumed key was a lift", in(Container), settled, keyWasLift, undoKey, Container, KeyWasLift},
	{"the remainder leaves", in(Container), settled, remainderGone, nil, Container, RemainderGone},
	{"the container leaves", in(Container), settled, gone, liftOff, Lifted, TakenOff},
	{"most of it left unseen", in(Container), settled, fellUnseen, noteFall, Container, FellUnseen},
	{"the container is leaving", in(Container), moving, gone, liftOff, Lifted, TakenOff},
	{"most of it is gone, and no lift was seen", in(Container), moving, fellUnseen, noteFall, Container, FellUnseen},
	{"an object beside it leaves", in(Container), settled, objectGone, carryObject, Container, None},
	{"the container is emptied out", in(Container), settled, lighter, nil, Container, EmptiedOut},

	// its container is off
	{"it is back, and the pan was empty before", in(lostZero), settled, rose, nil, Lifted, PutBack},
	{"after a gap zero proves nothing", in(lostZero), settled, doubtful, nil, lostZero, None},
	{"after a gap a load proves nothing", in(lostZero), settled, loaded, nil, lostZero, None},
	{"after a gap the empty pan is below zero", in(lostZero), settled, belowZero, proveAndInfer, Lifted, None},
	{"after a gap the pan is empty", in(lostZero), settled, nil, prove, Lifted, None},
	{"it was off below zero, and is back", in(Lifted), settled, backFromBelow, loseZero, lostZero, ZeroLost},
	{"the lift was a key in a pour", in(Lifted), settled, slowlyUnsure, loseZero, Unknown, ZeroLost},
	{"the lift was the key, and powder came", in(Lifted), settled, loadedSlowly, liftWasKey, Container, LiftWasKey},
	{"the container is back", in(Lifted), settled, halfBack, comeBack, Lifted, PutBack},
	{"an object stayed", in(Lifted), settled, stayed, keepObject, Lifted, None},
	{"another container, or an object", in(Lifted), settled, heavyFromZero, nil, Lifted, PutBack},
	{"below zero since a gap", in(Lifted), settled, belowSinceGap, zeroInferred, Lifted, None},
	{"the lift was the key, and this is the lift", in(Lifted), settled, liftedAfterKey, peakThenZero, Lifted, None},
	{"a key was pressed, and not seen", in(Lifted), settled, belowAtOnce, noteUnder, Lifted, None},
	{"it was back, tared, and is off again", in(Lifted), settled, belowByContainer, weighByKey, Lifted, PutBack},
	{"below zero with the container off", in(Lifted), settled, belowZero, zeroInferred, Lifted, None},

	// a gap
	{"silence on an empty pan", in(Empty), silent, nil, nil, Empty, None},
	{"silence with a container", in(Container), silent, nil, expect, Unknown, None},
	{"silence with the container off", in(Lifted, lostZero), silent, nil, nil, lostZero, None},
	{"silence again", in(Unknown), silent, nil, nil, Unknown, None},
	{"what it shows proves nothing", in(Unknown), settled, doubtful, nil, Unknown, None},
	{"the pan is below zero", in(Unknown), settled, belowZero, proveAndZero, Unknown, SeenEmpty},
	{"the pan is empty", in(Unknown), settled, unloaded, prove, Unknown, SeenEmpty},
	{"something stands there", in(Unknown), settled, nil, nil, Unknown, Standing},

	// the scale's own tare key
	{"the key", in(Empty, Container, Lifted, lostZero), keySeen, nil, carryKey, stay, KeyPressed},
	{"the key, as it seems", in(Empty, Container, Lifted, lostZero), keyPresumed, nil, presumeKey, stay, KeyPressed},

	{"the key, in a pour", in(Container), keyMoving, nil, loseZero, Unknown, ZeroLost},
	{"the key, as a load comes", in(Empty), keyMoving, nil, nil, Empty, None},
	{"the key, as the container comes or goes", in(Lifted, lostZero), keyMoving, nil, loseZero, lostZero, ZeroLost},

	// a print-key scale: what hands did between two frames nobody saw
	{"a container, printed", in(Empty), printed, heavy, nil, Empty, PutOn},
	{"an empty pan, printed", in(Empty), printed, offZero, zeroEmpty, Empty, None},
	{"no container, printed", in(Container), printed, gone, liftPrinted, Lifted, TakenOff},
	{"half empty, printed", in(Container), printed, partlyTipped, tipPrinted, Lifted, PartlyTipped},
	{"all but empty, printed", in(Container), printed, tipped, tipPrinted, Lifted, TippedUnseen},
	{"lighter than empty, printed", in(Container), printed, lighter, nil, Container, EmptiedOut},
	{"the container is back, printed", in(Lifted, lostZero), printed, heavy, nil, stay, PutBack},
	{"off the pan, printed", in(Lifted, lostZero), printed, nil, provePrinted, Lifted, None},
	{"what is printed proves nothing", in(Unknown), printed, doubtful, nil, Unknown, None},
	{"empty after a gap, printed", in(Unknown), printed, unloaded, provePrinted, Unknown, SeenEmpty},
	{"something stands there, printed", in(Unknown), printed, nil, nil, Unknown, Standing},
}

func in(s ...State) []State { return s }
