package scale

import (
	"time"

	"tared/protocol"
)

// Link tells whether an instrument can be heard.
type Link uint8

// The links. Waiting: not heard yet since the start, or port open and silent.
const (
	Waiting Link = iota
	Up
	Lost
)

var linkNames = [...]string{"waiting", "up", "lost"}

// String gives the word used in views and records.
func (l Link) String() string { return linkNames[l] }

// Update is one thing that happened to one instrument. A change of Link comes
// with an Update of its own, with HasReading false.
type Update struct {
	Scale      string           // name that the user gave
	At         time.Time        // when the last byte of the frame was there
	Link       Link             //
	Why        string           // for Waiting, Lost, Stale and a reading without mass: what is wrong and what to do, in a sentence
	Print      bool             // the scale speaks on its print key only: a frame is an explicit take, and stands until the next
	Stale      bool             // no reading for two seconds: show dashes; HasReading is false
	Identity   Identity         // what instrument this is, as far as known
	HasReading bool             // Reading is set
	Reading    protocol.Reading // Raw is a copy and may be kept
	HasMass    bool             // Mass and Step are set: a weight that may be used
	Mass       protocol.Mass    // what the scale shows
	Step       protocol.Mass    // its step at this point of its range
	Settled    bool             // at rest, by flag and window
	Late       bool             // after a silence much longer than usual: see Settler.Late
	Counts     Counts           // what was heard so far
}

// Identity is what is known of an instrument and its line.
type Identity struct {
	Port   string `json:"port"`             // as given or found
	USB    string `json:"usb,omitempty"`    // vendor:product:serial number
	Format string `json:"format,omitempty"` // as given or detected
	Line   string `json:"line,omitempty"`   // as "9600 8N1"
}

// Counts tells how the line is doing since it was opened, and how often it broke off since
// the start.
type Counts struct {
	Frames  uint64 `json:"frames"`  // read and understood
	Damaged uint64 `json:"damaged"` // of the format, but cut or corrupted
	Foreign uint64 `json:"foreign"` // not of the format
	Gaps    uint64 `json:"gaps"`    // times that it was lost, or fell silent, after it had been heard
}
