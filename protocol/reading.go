package protocol

import "errors"

// Status tells what kind of message a frame is.
type Status uint8

// The states of an instrument. Only OK carries a number.
const (
	Invalid   Status = iota // not a reading: garbage, a cut line, a bad checksum, a banner, an acknowledgement
	OK                      // a weight
	Overload                // more on the pan than the instrument can weigh
	Underload               // less than it can weigh: the pan is off, or pulled up
	Error                   // it cannot give a weight now: busy, time-out, fault
)

var statusNames = [...]string{"invalid", "ok", "overload", "underload", "error"}

// String gives the word used on the wire to programs.
func (s Status) String() string { return statusNames[s] }

// Claim is what a frame says of itself, when it says it at all.
type Claim uint8

// The three answers.
const (
	Unsaid Claim = iota
	No
	Yes
)

// Mode tells against which zero a weight is shown.
type Mode uint8

// The modes. ModeUnsaid is written "-".
const (
	ModeUnsaid Mode = iota
	Gross
	Net
	Tare
)

var modeNames = [...]string{"-", "gross", "net", "tare"}

// String gives the word used on the wire to programs.
func (m Mode) String() string { return modeNames[m] }

// Reading is what one frame said. When Status is not OK, Value, Unit, Stable and Step are
// zero, whatever digits the frame held.
type Reading struct {
	Format string  // name of the format that read it
	Status Status  //
	Value  Decimal // digits as shown
	Unit   Unit    // unit as shown, or as the format or the user defines a blank one
	Stable Claim   // Yes or No only when the bytes say so
	Mode   Mode    //
	Step   Decimal // the scale's step where the frame states it; zero Coef: one in Value's last place
	Raw    []byte  // the frame's bytes; they belong to the Decoder and hold until its next call
	Why    string  // for Invalid, Error: the reason, in words a person can use
	Err    error   // why the frame was refused: ErrForeign or ErrDamaged in its chain; nil for a frame of the format
}

// Mass gives the exact amount shown. It fails unless Status is OK and Unit is a mass.
func (r *Reading) Mass() (Mass, error) {
	if r.Status != OK {
		return 0, errors.New("no weight: " + r.Status.String())
	}
	return r.Value.Mass(r.Unit)
}

// The two ways to refuse a frame.
var (
	// ErrForeign: the frame is not of this format. It feeds detection.
	ErrForeign = errors.New("not this format")
	// ErrDamaged: the frame is of this format but cut, corrupted or impossible. It
	// is counted and shown.
	ErrDamaged = errors.New("damaged frame")
)
