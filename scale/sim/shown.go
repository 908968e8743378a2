package sim

import (
	"time"

	"tared/protocol"
)

// Shown is what a scale's display says at a moment.
type Shown struct {
	At     time.Time
	Silent bool            // off, or not awake yet: nothing on the display and nothing on the wire
	Cable  bool            // the cable is in; set by a World
	Status protocol.Status // OK, Overload, Underload, Error
	Value  protocol.Decimal
	Unit   protocol.Unit
	Step   protocol.Decimal // in Unit
	Stable bool             // by the scale's own detector; never with Model.NoFlag
	Zero   bool             // within a quarter of a step of zero
	Mode   protocol.Mode    // Gross, or Net after its own tare key
	Tare   protocol.Decimal // what the tare key took away, in Unit
}
