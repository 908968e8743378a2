package pan

import (
	"time"

	"tared/protocol"
	"tared/scale"
)

// Line is the last line of the scale.
type Line struct {
	Usable  bool             // it was a weight
	Gross   protocol.Mass    // what it shows and the offsets
	Shown   protocol.Decimal // on the display
	Unit    protocol.Unit    // of the display
	Status  protocol.Status
	Settled bool
	At      time.Time
	Raw     string // in printable form

	weighed protocol.Unit // the unit of the last weight, to notice the unit key
	mode    protocol.Mode
}

// Instrument is what the scale says of itself.
type Instrument struct {
	Link   scale.Link // whether it can be heard
	Why    string     // what is wrong with it, in a sentence
	ID     scale.Identity
	Counts scale.Counts // how its line is doing
	Print  bool         // it speaks on its print key only
}

// Vessel is the container on the pan, or the one that was lifted from it.
type Vessel struct {
	Weight  protocol.Mass // its own, gross
	Base    protocol.Mass // gross when this pour began: the container and what clings in it
	Untared bool          // what is in it belongs to nothing yet
	Noted   bool          // and the caller has told of it
	Slow    bool          // it came as slowly as powder, so there may be some in it
	Mark    protocol.Mass // what lay in it when Mark was called
	Clung   protocol.Mass // what a tip left in it that is still part of this pour

	raw  string // the line that Base rests on
	seen bool   // it was seen coming: a line between the empty pan and its rest
}

// LastLift is the last lift of the container.
type LastLift struct {
	Before protocol.Mass // gross before it
	Sure   bool          // Before had settled
	Keyed  bool          // a key took nobody knows how much: Before is not even about right
	Raw    string        // the line that Before rests on
	Gapped bool          // there was a gap since
	Rested bool          // the pan came to rest since
	Fell   protocol.Mass // where it fell to, of a lift that nobody saw
	Zero   protocol.Mass // what the empty pan showed then: its zero has drifted by so much

	under protocol.Mass // the pan was so far below zero then: a key was pressed, and not seen
	rose  bool          // powder came after Before had settled
}

// gap is a time in which the scale was not heard: cable out, switched off, asleep.
type gap struct {
	since   time.Time     // zero: it is heard
	expect  protocol.Mass // gross before it
	expects bool          // expect is known
	noted   bool          // expect is on record, and what came after that is not
	zero    bool          // since then it shows zero, which may be an empty pan or a tared container
	proven  bool          // since then the pan was seen empty, so its zero is known
	moved   bool          // it is no gap: a key moved the zero, by nobody knows how much
	ran     bool          // powder ran when it began
	low     protocol.Mass // where the display was seen since then, with nothing on the pan
}

// frame is what a print-key scale last printed at rest.
type frame struct {
	gross protocol.Mass
	raw   string
	known bool
}

// Prior is a container that left the pan with nothing poured into it since it
// was tared; the zero value is none.
type Prior struct {
	Weight, Base, Before protocol.Mass
	Raw                  string
}

// Remainder is what came back in a container beyond what clings: powder, an object
// that lies on the pan beside it, or the weight of another container.
type Remainder struct {
	Of     uint64        // what was tipped, as the caller numbers it
	Amount protocol.Mass // zero: none
	Slack  protocol.Mass
	Base   protocol.Mass // of the pour that was tipped
}
