package fact

import "tared/protocol"

// Lost: an instrument went silent or away while a batch was open.
type Lost struct {
	Scale string `json:"scale"`
	Port  string `json:"port"`
	Why   string `json:"why"`
}

// Found: it is back. Tare tells whether the pan proved the tare: kept, unknown.
type Found struct {
	Scale string        `json:"scale"`
	Port  string        `json:"port"`
	After string        `json:"after"` // how long it was away, as "12.4s"
	Shows protocol.Mass `json:"shows"`
	Tare  string        `json:"tare"`
	Raw   []string      `json:"raw"`
}

// Noticed: the bench saw something that a later reader may want to know.
type Noticed struct {
	Scale string `json:"scale,omitempty"`
	// What is a code: tare-key, key-in-motion, another-scale, unit, taken-away, wrong-scale, standing, told-zero, told-tare, clock.
	What     string        `json:"what"`
	Words    string        `json:"words,omitempty"` // written by older programs
	Amount   protocol.Mass `json:"amount,omitzero"`
	Unit     string        `json:"unit,omitempty"`     // that the scale shows now
	Material string        `json:"material,omitempty"` // that belongs on
	Other    string        `json:"other,omitempty"`    // this scale
	Undone   bool          `json:"undone,omitempty"`   // what was taken for a tare key was none
	Set      string        `json:"set,omitempty"`      // by how much the clock of the machine jumped, "-1h0m0s"
	// Inferred says that nobody saw it: what the scale showed can have come of nothing else.
	Inferred bool     `json:"inferred,omitempty"`
	Raw      []string `json:"raw,omitempty"`
}

// Checked: a known weight was put on a scale, and the reading judged.
type Checked struct {
	Scale     string          `json:"scale"`
	Port      string          `json:"port,omitempty"`
	Identity  string          `json:"identity,omitempty"` // vendor:product:serial
	What      string          `json:"what"`               // mass; edges: at the centre of the pan, then near its edges
	Mass      protocol.Mass   `json:"mass"`               // of the weight, as it is marked
	Shown     []protocol.Mass `json:"shown"`              // less the zero before it
	Deviation protocol.Mass   `json:"deviation"`          // the largest, shown less mass
	Allowed   protocol.Mass   `json:"allowed"`            // either way
	Class     string          `json:"class,omitempty"`    // accuracy class; empty: judged by two steps
	Interval  protocol.Mass   `json:"interval,omitzero"`  // verification scale interval e, with a class
	Pass      bool            `json:"pass"`
	Step      protocol.Mass   `json:"step"`
	Words     string          `json:"words,omitempty"` // written by older programs
	Raw       []string        `json:"raw"`             // the frame of each zero, then of each reading
}

// MarshalJSON writes the masses with the digits of the scale's step.
func (c Checked) MarshalJSON() ([]byte, error) {
	type plainChecked Checked
	n := c.Step.Places()
	return plain(struct {
		plainChecked
		Shown     []shown `json:"shown"`
		Deviation shown   `json:"deviation"`
		Allowed   shown   `json:"allowed"`
		Step      shown   `json:"step"`
	}{plainChecked(c), shownAll(c.Shown, n), shown{c.Deviation, n}, shown{c.Allowed, n}, shown{c.Step, n}})
}

// Repeatability: one weight was put on a scale and taken off again, some ten
// times.
type Repeatability struct {
	Scale    string          `json:"scale"`
	Port     string          `json:"port,omitempty"`
	Identity string          `json:"identity,omitempty"`
	Mass     protocol.Mass   `json:"mass"`   // of the weight, roughly
	Shown    []protocol.Mass `json:"shown"`  // each less the zero before it
	Spread   protocol.Mass   `json:"spread"` // standard deviation s, with n-1
	Range    protocol.Mass   `json:"range"`  // largest less smallest
	// The least weighable net mass: by USP <41> for 0.10 %, and by U = 2u with
	// u*u = d*d/6 + s*s for what a base material (1 %) and an addition (2 %) may
	// be off.
	LeastUSP      protocol.Mass `json:"least_usp"`
	LeastBase     protocol.Mass `json:"least_base"`
	LeastAddition protocol.Mass `json:"least_addition"`
	Step          protocol.Mass `json:"step"`
	Words         string        `json:"words,omitempty"` // written by older programs
	Raw           []string      `json:"raw"`
}

// MarshalJSON writes the masses with the digits of the scale's step.
func (r Repeatability) MarshalJSON() ([]byte, error) {
	type plainRepeatability Repeatability
	n := r.Step.Places()
	return plain(struct {
		plainRepeatability
		Shown []shown `json:"shown"`
		Range shown   `json:"range"`
		Step  shown   `json:"step"`
	}{plainRepeatability(r), shownAll(r.Shown, n), shown{r.Range, n}, shown{r.Step, n}})
}

// Kind gives the word in the journal.
func (Lost) Kind() string          { return "lost" }
func (Found) Kind() string         { return "found" }
func (Noticed) Kind() string       { return "noticed" }
func (Checked) Kind() string       { return "checked" }
func (Repeatability) Kind() string { return "repeatability" }

func shownAll(ms []protocol.Mass, places int) []shown {
	out := make([]shown, len(ms))
	for i, m := range ms {
		out[i] = shown{m, places}
	}
	return out
}
