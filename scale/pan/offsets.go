package pan

import "tared/protocol"

// Reason says why the zero of a scale is not where it was.
type Reason uint8

// The reasons. Inferred is a key that nobody saw pressed: what the scale shows with
// the container off, or on again, can have come of nothing else. Earlier is what a
// record carries that does not say why.
const (
	Key Reason = iota
	Drift
	Object
	Inferred
	Earlier
	reasons
)

// Offsets are what the weights on a pan are more than its scale shows, by reason.
// They keep gross weights still when the scale's zero moves.
type Offsets [reasons]protocol.Mass

// Sum is all of them.
func (o Offsets) Sum() (all protocol.Mass) {
	for _, m := range o {
		all += m
	}
	return all
}
