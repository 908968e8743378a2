package pan

import (
	"time"

	"tared/protocol"
	"tared/scale"
)

// line is the last line of the scale.
type line struct {
	usable  bool          // gross counts
	gross   protocol.Mass // what it shows and the offsets
	shown   protocol.Decimal
	unit    protocol.Unit
	weighed protocol.Unit // the unit of the last weight, to notice the unit key
	status  protocol.Status
	mode    protocol.Mode
	settled bool
	at      time.Time
	raw     string
}

// instrument is what the scale says of itself.
type instrument struct {
	link  scale.Link
	why   string
	id    scale.Identity
	count scale.Counts
	print bool // it speaks on its print key only
}

// vessel is the container on the pan, or the one that was lifted from it.
type vessel struct {
	weight  protocol.Mass // its own, gross
	base    protocol.Mass // gross when this pour began: the container and what clings in it
	raw     string        // the line that base rests on
	seen    bool          // it was seen coming: a line between the empty pan and its rest
	untared bool          // what is in it belongs to nothing yet
	noted   bool          // and the caller has told of it
	slow    bool          // it came as slowly as powder, so there may be some in it
	mark    protocol.Mass // what lay in it when Mark was called
}

// lift is the last lift of the container.
type lift struct {
	before protocol.Mass // gross before it
	sure   bool          // before had settled
	raw    string        // the line that before rests on
	gapped bool          // there was a gap since
	rested bool          // the pan came to rest since
	zero   protocol.Mass // what the empty pan showed then: its zero has drifted by so much
}

// gap is a time in which the scale was not heard: cable out, switched off, asleep.
type gap struct {
	since   time.Time     // zero: it is heard
	expect  protocol.Mass // gross before it
	expects bool          // expect is known
	zero    bool          // since then it shows zero, which may be an empty pan or a tared container
	proven  bool          // since then the pan was seen empty, so its zero is known
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
