package fact

import "tared/protocol"

// What happens to a batch after it was closed. Each is a line of its own; the
// closing hash stands.
type (
	// Typed is a weight that a person read off a scale and typed, or that was weighed
	// on a scale of the bench.
	Typed struct {
		Mass protocol.Mass
		Step protocol.Mass // of its last digit
		// U, Scale and Raw are there only where the bench weighed it.
		U     protocol.Mass
		Scale string
		Raw   []string
	}
	// Vessel was measured: so much water fills it to its mark. It belongs to no batch;
	// the last of a name counts.
	Vessel struct {
		Name    string `json:"name"`
		Water   Typed  `json:"water"`   // net weight
		Celsius string `json:"celsius"` // of that water
		Volume  string `json:"volume"`  // as computed from these, in millilitres
	}
	// Watered: water went into the bucket, or how it stands was measured. What was
	// not done is left out.
	Watered struct {
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
	// Fired: tiles of the batch went through a kiln.
	Fired struct {
		Kiln       string   `json:"kiln"`
		Cone       string   `json:"cone,omitempty"` // as text
		Hold       string   `json:"hold,omitempty"`
		Atmosphere string   `json:"atmosphere,omitempty"`
		Tiles      []string `json:"tiles,omitempty"` // their marks
		Curve      string   `json:"curve,omitempty"` // lines of "minutes,celsius", or words
		Words      string   `json:"words,omitempty"`
		Photos     []string `json:"photos,omitempty"` // names of files beside the journal, each the SHA-256 of the file
	}
	// Judged: a tile was looked at.
	Judged struct {
		Tile    string   `json:"tile"`
		Clay    string   `json:"clay,omitempty"`
		Coats   string   `json:"coats,omitempty"`
		Thick   string   `json:"thickness,omitempty"`
		Place   string   `json:"place,omitempty"` // in the kiln
		Words   string   `json:"words,omitempty"`
		Tags    []string `json:"tags,omitempty"`
		Photos  []string `json:"photos,omitempty"` // as in Fired
		Verdict string   `json:"verdict,omitempty"`
		Next    string   `json:"next,omitempty"` // what to try next
	}
)

// Kind gives the word in the journal.
func (Watered) Kind() string { return "watered" }
func (Fired) Kind() string   { return "fired" }
func (Judged) Kind() string  { return "judged" }
func (Vessel) Kind() string  { return "vessel" }

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

// laterBody reads the kinds that follow a closed batch.
func laterBody(kind string, data []byte) (b Body, known bool, err error) {
	switch kind {
	case "watered":
		b, err = into[Watered](data)
	case "fired":
		b, err = into[Fired](data)
	case "judged":
		b, err = into[Judged](data)
	case "vessel":
		b, err = into[Vessel](data)
	default:
		return nil, false, nil
	}
	return b, true, err
}
