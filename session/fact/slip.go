package fact

import "tared/protocol"

// Watered: water went into the bucket, or how it stands was measured. What was
// not done is left out.
type Watered struct {
	Added    Typed  `json:"added,omitzero"`    // water weighed in
	Sample   Typed  `json:"sample,omitzero"`   // net weight of the slip that fills a vessel
	Vessel   string `json:"vessel,omitempty"`  // its name, where it was measured before; Bottle and Celsius are then its own
	Volume   string `json:"volume,omitempty"`  // of that vessel, in millilitres
	Bottle   Typed  `json:"bottle,omitzero"`   // net weight of the water that fills it
	Celsius  string `json:"celsius,omitempty"` // of that water
	Gravity  string `json:"gravity,omitempty"` // as computed from these, four decimals
	Seconds  string `json:"seconds,omitempty"` // from a flow cup
	Mesh     string `json:"mesh,omitempty"`    // number of the sieve
	Standard string `json:"standard,omitempty"`
	Opening  string `json:"opening,omitempty"` // of the sieve, in µm
	Words    string `json:"words,omitempty"`
}

// Typed is a weight that a person read off a scale and typed, or that was weighed
// on a scale of the bench.
type Typed struct {
	Mass protocol.Mass
	Step protocol.Mass // of its last digit
	// U, Scale and Raw are there only where the bench weighed it.
	U     protocol.Mass
	Scale string
	Raw   []string
}

// MarshalJSON writes the weight with the digits that were typed.
func (t Typed) MarshalJSON() ([]byte, error) {
	n := t.Step.Places()
	return plain(struct {
		Mass  shown         `json:"mass"`
		Step  shown         `json:"step"`
		U     protocol.Mass `json:"u,omitzero"`
		Scale string        `json:"scale,omitempty"`
		Raw   []string      `json:"raw,omitempty"`
	}{shown{t.Mass, n}, shown{t.Step, n}, t.U, t.Scale, t.Raw})
}

// Vessel was measured: so much water fills it to its mark. It belongs to no batch;
// the last of a name counts.
type Vessel struct {
	Name    string `json:"name"`
	Water   Typed  `json:"water"`   // net weight
	Celsius string `json:"celsius"` // of that water
	Volume  string `json:"volume"`  // as computed from these, in millilitres
}

// Kind gives the word in the journal.
func (Watered) Kind() string { return "watered" }
func (Vessel) Kind() string  { return "vessel" }
