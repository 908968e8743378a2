package fact

// Paired: a browser or a program may command from now on; or one that may got another name.
type Paired struct {
	Device string `json:"device"` // no secret: what proves it is kept by the device
	Name   string `json:"name"`
	Was    string `json:"was,omitempty"`   // its name before
	From   string `json:"from,omitempty"`  // address that it came from
	Via    string `json:"via,omitempty"`   // name of the device that did it; empty: a command, or a code
	Token  bool   `json:"token,omitempty"` // it is a program
}

// Revoked: a device may command no longer.
type Revoked struct {
	Device string `json:"device"`
	Name   string `json:"name"`
	Via    string `json:"via,omitempty"` // as in Paired
}

// Kind gives the word in the journal.
func (Paired) Kind() string  { return "paired" }
func (Revoked) Kind() string { return "revoked" }
