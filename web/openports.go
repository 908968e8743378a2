package web

import "tared/session/text"

// Ports is what the scales page needs of the ports that are not set up.
type Ports interface {
	Seen() PortsView
	// Look has them listened to for a while.
	Look()
	// Take sets the scale on a port up, in the file of settings, and says which file that
	// is. The bench takes it up as soon as nothing is being weighed.
	Take(t TakePort) (file string, err error)
	// Try has what is proposed for a port tried with a known weight; Seen tells how it goes.
	Try(t TryPort) error
	// Reload has the settings read again, as after Take.
	Reload()
	// KeepCapture writes what came at a port into a file beside the journal, and says which.
	KeepCapture(port string) (file string, err error)
}

// PortsView is what comes at the ports that are not set up.
type PortsView struct {
	Here    bool     `json:"here"`    // this bench has ports
	Looking bool     `json:"looking"` // they are listened to now
	Ports   []Port   `json:"ports"`
	Faults  []string `json:"faults"` // scales of the settings that were left out, and why
}

// Port is one of them. What is not known is empty.
type Port struct {
	Port    string `json:"port"`
	USB     string `json:"usb"`
	Product string `json:"product"`
	Line    string `json:"line"`
	Format  string `json:"format"` // where the scale is understood
	Shows   string `json:"shows"`  // what it shows now
	Raw     string `json:"raw"`    // the last that came, as it came
	Why     string `json:"why"`    // what stands in the way, and the mend
	// Proposal is how the text that comes could be read, where no format knows it.
	Proposal *Proposal    `json:"proposal"`
	Unclear  text.Message `json:"unclear"` // why there is none
}

// Proposal is a way to read what comes in no known format. It is nobody's until a known
// weight has shown that it is right.
type Proposal struct {
	Reads   string         `json:"reads"`   // what it makes of the last line
	NoUnit  bool           `json:"noUnit"`  // no line shows the unit: it must be told
	Sure    []text.Message `json:"sure"`    // what the lines show
	Guessed []text.Message `json:"guessed"` // what they do not
	Trial   string         `json:"trial"`   // how far a trial is: see scale.Trial
	Says    text.Message   `json:"says"`    // of the trial: what to do now, or what came of it
}

// TryPort is a known weight that somebody puts on the scale at a port.
type TryPort struct {
	Port   string `json:"port"`
	Weight string `json:"weight"` // as "500g"
	Unit   string `json:"unit"`   // of the number, where the lines show none
}

// TakePort is a scale that somebody wants set up.
type TakePort struct {
	Port string `json:"port"`
	Name string `json:"name"`
	Step string `json:"step"` // as "0.1g"; empty: as its digits show
	Max  string `json:"max"`  // as "2000g"; empty: not known
}

// noPorts is a bench whose scales are no ports, such as a simulated one.
type noPorts struct{}

func (noPorts) Seen() PortsView                    { return PortsView{} }
func (noPorts) Look()                              {}
func (noPorts) Try(TryPort) error                  { return text.Refuse("ports.none-here") }
func (noPorts) Reload()                            {}
func (noPorts) Take(TakePort) (string, error)      { return "", text.Refuse("ports.none-here") }
func (noPorts) KeepCapture(string) (string, error) { return "", text.Refuse("ports.none-here") }
