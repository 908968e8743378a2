package fact

import "tared/protocol"

// Zero says why a scale's zero is not where it was: what the weights of a record are
// more than the scale showed, by reason. Carried, in the facts that hold this, is all
// of it; older journals have that alone.
type Zero struct {
	Key      protocol.Mass `json:"key,omitzero"`      // taken up by the scale's own tare key, seen
	Drift    protocol.Mass `json:"drift,omitzero"`    // less what the empty pan showed
	Object   protocol.Mass `json:"object,omitzero"`   // taken off the pan since the scale was zeroed; less what lies there
	Inferred protocol.Mass `json:"inferred,omitzero"` // taken up by the key, as nobody saw and the weights show
}

// zero is written where there is one.
func (o object) zero(name string, z Zero, places int) object {
	if z == (Zero{}) {
		return o
	}
	in := object(nil)
	for _, m := range []struct {
		name string
		by   protocol.Mass
	}{{"key", z.Key}, {"drift", z.Drift}, {"object", z.Object}, {"inferred", z.Inferred}} {
		if m.by != 0 {
			in = in.mass(m.name, m.by, places)
		}
	}
	return append(o.name(name), in.end()...)
}
