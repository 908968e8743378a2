package scale

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tared/protocol"
)

// Port is an open port. Its owner is one goroutine, which reads, writes and
// closes.
type Port interface {
	// Read waits a short while (some 200 ms) for bytes. (0, nil) says that none came
	// in that time; any error says that the port is gone.
	Read(p []byte) (int, error)
	// Write sends p, or fails: it must not wait for an instrument that does not
	// read, for it holds up the one goroutine that listens.
	Write(p []byte) (int, error)
	Close() error
}

// Opener opens a port by its path, resolving links anew each time. What was
// received before the call is dropped.
type Opener interface {
	Open(path string, line protocol.Line) (Port, error)
}

// OpenFunc is a function as an Opener.
type OpenFunc func(path string, line protocol.Line) (Port, error)

// Open calls f.
func (f OpenFunc) Open(path string, line protocol.Line) (Port, error) { return f(path, line) }

// What a Port may offer beside.
type (
	// LineSetter changes the setting of an open port, which does not toggle the
	// handshake lines as opening anew does, and drops what was received.
	LineSetter interface {
		SetLine(protocol.Line) error
	}
	// Identifier knows the lasting identity of the device behind the port, as
	// vendor:product:serial; "" when it has none.
	Identifier interface {
		USB() string
	}
	// Patient waits up to a second in a Read while that is asked for: a time that runs out
	// between two lines costs a tenth of what a line does.
	Patient interface {
		Patient(is bool)
	}
	// Speaker knows the one format that can come through this port.
	Speaker interface {
		Speaks() string
	}
)

// Locator may be offered by an Opener: it finds the path at which a device with
// this identity is now, for the number of a node changes when the device is
// plugged in again.
type Locator interface {
	Locate(usb string) (path string, ok bool)
}

// Found is one port of this machine.
type Found struct {
	Port     string `json:"port"`               // path, or COM3
	USB      string `json:"usb,omitempty"`      // vendor:product:serial
	Lasting  string `json:"lasting,omitempty"`  // a path that survives plugging in again, where there is one
	Product  string `json:"product,omitempty"`  // what the device calls itself
	Resource string `json:"resource,omitempty"` // serial, hid
}

// Key names the device in the memory of settings: its own identity where it has
// a serial number, else where it is plugged in, else its path.
func (f Found) Key() string {
	switch {
	case HasSerial(f.USB):
		return "usb " + f.USB
	case f.Lasting != "":
		return f.Lasting
	}
	return f.Port
}

// HasSerial tells whether a USB identity names one device, and not a kind of
// device: many cheap adapters carry no serial number.
func HasSerial(usb string) bool {
	parts := strings.SplitN(usb, ":", 3)
	return len(parts) == 3 && parts[2] != ""
}

// The reasons why a port cannot be used. A *PortError carries one of them.
var (
	ErrNoPort      = errors.New("there is no such port")
	ErrNotPort     = errors.New("it is not a port that a scale can be on")
	ErrDenied      = errors.New("permission denied")
	ErrBusy        = errors.New("another program holds it")
	ErrGone        = errors.New("the device is gone")
	ErrSetting     = errors.New("the port cannot do this setting")
	ErrUnsupported = errors.New("not possible on this system")
	ErrPort        = errors.New("it cannot be opened") // none of the above
)

// PortError says what is wrong with a port and what a person can do.
type PortError struct {
	Port  string // path as given
	Kind  error  // one of the reasons above
	What  string // more about it, "" where Kind says all
	Mend  string // what to do
	Cause error  // what the system said, for the log; may be nil
}

// Error gives one sentence for a person.
func (e *PortError) Error() string {
	s := fmt.Sprintf("port %q: %s", e.Port, e.Kind)
	if e.What != "" {
		s += " (" + e.What + ")"
	}
	if e.Mend != "" {
		s += ": " + e.Mend
	}
	return s
}

// Unwrap gives the reason and the cause.
func (e *PortError) Unwrap() []error {
	if e.Cause == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Cause}
}

// LineText writes a setting as people do: "9600 8N1".
func LineText(l protocol.Line) string {
	if l.Baud == 0 {
		return frameText(l)
	}
	return strconv.Itoa(l.Baud) + " " + frameText(l)
}

func frameText(l protocol.Line) string {
	return strconv.Itoa(l.Bits) + string(rune(l.Parity)) + strconv.Itoa(l.Stop)
}

// ParseFraming reads the framing of a setting, as "7E1": data bits 7 or 8,
// parity N, E or O, stop bits 1 or 2. The baud rate stays zero.
func ParseFraming(s string) (protocol.Line, error) {
	t := strings.ToUpper(strings.TrimSpace(s))
	if len(t) != 3 || t[0] != '7' && t[0] != '8' || !strings.Contains("NEO", t[1:2]) || t[2] != '1' && t[2] != '2' {
		return protocol.Line{}, fmt.Errorf("%q is not a framing: give data bits 7 or 8, parity N, E or O, and stop bits 1 or 2, for example 8N1 or 7E1", s)
	}
	return protocol.Line{Bits: int(t[0] - '0'), Parity: t[1], Stop: int(t[2] - '0')}, nil
}

// sameLine compares what is set on the wire, not where it was read.
func sameLine(a, b protocol.Line) bool {
	return a.Baud == b.Baud && a.Bits == b.Bits && a.Parity == b.Parity && a.Stop == b.Stop
}
