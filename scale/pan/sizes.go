package pan

import (
	"time"

	"tared/protocol"
)

// Sizes in steps, and times, that tell hands apart. All are common practice
// with no source; each is tried in the tests that name it.
const (
	LeastContainer = 10                         // steps; less than that is dust ...
	lightest       = 400 * protocol.Gram / 1000 // ... and so is this: a small weighing boat has more
	ZeroSlack      = 5                          // steps around zero that still count as an empty pan
	SameSlack      = 2                          // steps within which two settled weights are the same
	creep          = 30                         // steps by which a zero may have drifted, where no key did it
	liftDown       = 3 * time.Second            // how long a steady fall from rest may take to count as a lift
	liftMixed      = 400 * time.Millisecond     // the same when the reading also went up
	longestRepeat  = 800 * time.Millisecond     // a converter that takes longer is none of a scale
)
