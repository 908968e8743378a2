package fact

import (
	"tared/protocol"
	"tared/session/text"
)

// Reminded: the mask and ventilation reminder was shown and answered.
type Reminded struct {
	Reminders []text.Message `json:"reminders,omitempty"` // that were shown
	Words     []string       `json:"words,omitempty"`     // the same, written by older programs
	Answer    string         `json:"answer"`
}

// Decided: a person answered a question.
type Decided struct {
	Question string        `json:"question"`
	Answer   string        `json:"answer"`
	Material string        `json:"material,omitempty"`
	With     string        `json:"with,omitempty"`
	Scale    string        `json:"scale,omitempty"`
	Amount   protocol.Mass `json:"amount,omitzero"`
	Words    string        `json:"words,omitempty"` // of the person
}

// Role: a person said what a material is that no table knows. It belongs to no
// batch; the last word holds.
type Role struct {
	Material string `json:"material"`
	Role     string `json:"role"` // base, addition, strong
}

// Noted: words of a person.
type Noted struct {
	Text string `json:"text"`
}

// Paused and Resumed frame a break.
type Paused struct {
	Why string `json:"why,omitempty"`
}

// Resumed ends a break or a restart of the daemon.
type Resumed struct {
	Why     string `json:"why,omitempty"`
	Restart bool   `json:"restart,omitempty"` // of the program
	Blind   bool   `json:"blind,omitempty"`   // nothing could be recorded for a while
}

// Amended corrects an earlier fact and hides nothing. A weight that a person gave
// is typed, and has U and Step of its own; without them those of the fact hold on.
type Amended struct {
	Of       uint64        `json:"of"` // seq of the fact that is corrected
	Reason   string        `json:"reason"`
	Material string        `json:"material,omitempty"`
	Was      protocol.Mass `json:"was"`
	Is       protocol.Mass `json:"is"`
	Void     bool          `json:"void,omitempty"`  // the fact no longer counts
	Field    string        `json:"field,omitempty"` // which value, where it is not the delivered mass
	Old      string        `json:"old,omitempty"`
	New      string        `json:"new,omitempty"`
	How      string        `json:"how,omitempty"` // typed; undone: at the bench; not-powder: what was left in the container was not
	U        protocol.Mass `json:"u,omitzero"`    // of Is
	Span     protocol.Mass `json:"span,omitzero"` // of U, as of a portion
	Step     protocol.Mass `json:"step,omitzero"` // of the last digit typed
	Raw      []string      `json:"raw,omitempty"`
}

// MarshalJSON writes the weights of a typed correction with the digits that were
// typed.
func (a Amended) MarshalJSON() ([]byte, error) {
	type plainAmended Amended
	if a.Step == 0 {
		return plain(plainAmended(a))
	}
	n := a.Step.Places()
	return plain(struct {
		Of     uint64 `json:"of"`
		Reason string `json:"reason"`
		Was    shown  `json:"was"`
		Is     shown  `json:"is"`
		plainAmended
		Step shown `json:"step"`
	}{a.Of, a.Reason, shown{a.Was, n}, shown{a.Is, n}, plainAmended(a), shown{a.Step, n}})
}

// Kind gives the word in the journal.
func (Reminded) Kind() string { return "reminded" }
func (Decided) Kind() string  { return "decided" }
func (Role) Kind() string     { return "role" }
func (Noted) Kind() string    { return "noted" }
func (Paused) Kind() string   { return "paused" }
func (Resumed) Kind() string  { return "resumed" }
func (Amended) Kind() string  { return "amended" }
