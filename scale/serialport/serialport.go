// Package serialport opens the serial ports of this machine for package scale,
// and lists them. It is the only place that imports the serial library, and the
// place where what the system says becomes a sentence for a person.
//
// Start with Ports, which is the scale.Opener of real ports; Open does the work
// and List names what is there. A path such as /dev/hidraw0 goes to package
// hidport, so that one Opener serves both kinds of scale.
package serialport

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"go.bug.st/serial"

	"tared/protocol"
	"tared/scale"
	"tared/scale/hidport"
)

// readWait is how long a Read waits for bytes that is not patient.
const readWait = 200 * time.Millisecond

// Ports opens the ports of this machine.
type Ports struct {
	// LowDTR keeps DTR and RTS low, for boards that reset when they rise. They are
	// high otherwise, for older balances send nothing until they are. On Unix they
	// rise for a moment in either case.
	LowDTR bool
}

// Open opens the port at path, a hidraw device included, or the device that path
// names by its USB identity.
func (p Ports) Open(path string, line protocol.Line) (scale.Port, error) {
	if usb, ok := scale.ByUSB(path); ok {
		var err error
		if path, err = plugged(path, usb); err != nil {
			return nil, err
		}
	}
	if hidport.Is(path) {
		return hidport.Open(path)
	}
	return open(path, line, p.LowDTR)
}

// List names the ports of this machine.
func (p Ports) List() ([]scale.Found, error) { return List() }

// Locate finds the path at which the device with this identity is now.
func (p Ports) Locate(usb string) (string, bool) {
	path, err := plugged("", usb)
	return path, err == nil && scale.HasSerial(usb)
}

// plugged finds the one device with this identity.
func plugged(port, usb string) (path string, err error) {
	found, err := List()
	if err != nil {
		return "", sentence(port, err)
	}
	for _, f := range found {
		switch {
		case f.USB != usb:
		case path != "":
			return "", &scale.PortError{Port: port, Kind: scale.ErrPort, What: "two devices are called so: " + path + " and " + f.Port,
				Mend: `unplug one of them, or name the scale by port=`}
		default:
			path = f.Port
		}
	}
	if path == "" {
		return "", &scale.PortError{Port: port, Kind: scale.ErrNoPort, Mend: `plug the scale in and switch it on; it is taken up by itself`}
	}
	return path, nil
}

// port is an open serial port.
type port struct {
	serial.Port
	path   string
	usb    string
	handle *handle
}

// open opens a serial port. It is set raw first, and what was received before is
// dropped then. Errors are *scale.PortError.
func open(path string, line protocol.Line, lowDTR bool) (scale.Port, error) {
	mode, err := modeOf(path, line)
	if err != nil {
		return nil, err
	}
	h, err := openHandle(path)
	if err != nil {
		return nil, sentence(path, err)
	}
	if lowDTR {
		mode.InitialStatusBits = &serial.ModemOutputBits{}
	}
	sp, err := serial.Open(path, mode)
	if err != nil && lowDTR {
		// A pseudo-terminal has no such lines; it has nothing to reset either.
		mode.InitialStatusBits = nil
		sp, err = serial.Open(path, mode)
	}
	if err != nil {
		h.Close()
		return nil, sentence(path, err)
	}
	p := &port{Port: sp, path: path, usb: identity(path), handle: h}
	if err = h.bind(sp); err == nil {
		err = sp.ResetInputBuffer()
	}
	if err != nil {
		p.Close()
		return nil, sentence(path, err)
	}
	return p, nil
}

// Patient is as scale.Patient has it.
func (p *port) Patient(is bool) { p.handle.Patient(is) }

// Read waits up to 200 ms, or a second where it is patient, and gives (0, nil) after that time.
func (p *port) Read(b []byte) (int, error) {
	n, err := p.handle.Read(b)
	if err != nil {
		return n, p.gone(err)
	}
	return n, nil
}

// Write sends b, or fails at once where the other side does not read.
func (p *port) Write(b []byte) (int, error) {
	n, err := p.handle.Write(b)
	if err == nil && n < len(b) {
		err = syscall.EAGAIN
	}
	if err != nil {
		return n, fmt.Errorf("write to port %q: the instrument does not take it: %w", p.path, err)
	}
	return n, nil
}

// Close frees the port. Only the goroutine that reads may call it.
func (p *port) Close() error {
	return errors.Join(p.Port.Close(), p.handle.Close())
}

// SetLine changes the setting and drops what was received under the old one.
func (p *port) SetLine(line protocol.Line) error {
	mode, err := modeOf(p.path, line)
	if err != nil {
		return err
	}
	if err := p.SetMode(mode); err != nil {
		if pe := (*serial.PortError)(nil); errors.As(err, &pe) || errors.Is(err, syscall.EINVAL) {
			return setting(p.path, line, err)
		}
		return p.gone(err)
	}
	return p.ResetInputBuffer()
}

// USB gives vendor:product:serial, "" where there is none.
func (p *port) USB() string { return p.usb }

func (p *port) gone(err error) error {
	return &scale.PortError{Port: p.path, Kind: scale.ErrGone, Cause: err,
		Mend: "check the cable and whether the scale or its adapter is switched on; it is taken up again by itself"}
}

func setting(path string, line protocol.Line, cause error) error {
	return &scale.PortError{Port: path, Kind: scale.ErrSetting, What: scale.LineText(line), Cause: cause,
		Mend: "choose another speed, parity or number of bits on the scale and here, or another adapter"}
}

func modeOf(path string, l protocol.Line) (*serial.Mode, error) {
	m := &serial.Mode{BaudRate: l.Baud, DataBits: l.Bits}
	ok := l.Baud > 0 && (l.Bits == 7 || l.Bits == 8)
	switch l.Parity {
	case 'N':
	case 'E':
		m.Parity = serial.EvenParity
	case 'O':
		m.Parity = serial.OddParity
	default:
		ok = false
	}
	switch l.Stop {
	case 1:
	case 2:
		m.StopBits = serial.TwoStopBits
	default:
		ok = false
	}
	if !ok {
		return nil, setting(path, l, nil)
	}
	return m, nil
}

// sentence turns what the system or the library said about opening into one
// that tells what to do.
func sentence(path string, err error) error {
	if pe := (*scale.PortError)(nil); errors.As(err, &pe) {
		return err
	}
	e := &scale.PortError{Port: path, Kind: scale.ErrPort, Cause: err, What: err.Error(), Mend: "unplug the adapter and plug it in again"}
	var le *serial.PortError
	code := serial.PortErrorCode(-1)
	if errors.As(err, &le) {
		code = le.Code()
	}
	switch {
	case errors.Is(err, fs.ErrNotExist), code == serial.PortNotFound:
		e.Kind, e.What = scale.ErrNoPort, ""
		e.Mend = `plug the scale in and switch it on, or name another port`
		if _, err := os.Lstat(path); err == nil {
			e.What = "the link leads nowhere"
			e.Mend = "plug the scale in and switch it on"
		}
	case errors.Is(err, syscall.EACCES), errors.Is(err, syscall.EPERM), code == serial.PermissionDenied && !windows:
		e.Kind = scale.ErrDenied
		e.What, e.Mend = deniedBy(path)
	case errors.Is(err, syscall.EBUSY), errors.Is(err, errLocked), code == serial.PortBusy, code == serial.PermissionDenied:
		// Windows denies access to a port that is open elsewhere.
		e.Kind, e.What = scale.ErrBusy, holder(path)
		e.Mend = "close that program; a terminal program, another tared or a modem manager are the usual ones"
	case errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.EIO):
		e.Kind, e.What = scale.ErrGone, "its name is still there, but nothing is behind it"
		e.Mend = "unplug the adapter and plug it in again"
	case strings.Contains(err.Error(), "configuring port"), code >= serial.InvalidSpeed && code <= serial.InvalidStopBits:
		// The library hides its own inner error, so its words must do.
		e.Kind, e.What = scale.ErrSetting, ""
		e.Mend = "choose another speed, parity or number of bits on the scale and here, or another adapter"
	case code == serial.InvalidSerialPort, errors.Is(err, syscall.ENOTTY), errors.Is(err, syscall.EISDIR), errors.Is(err, errNotPort):
		e.Kind, e.What = scale.ErrNotPort, kindOf(path)
		e.Mend = `name a serial port such as /dev/ttyUSB0`
	}
	return e
}

var (
	errLocked  = errors.New("locked by another program")
	errNotPort = errors.New("not a port")
)

// kindOf says in words what is at path instead of a port.
func kindOf(path string) string {
	i, err := os.Stat(path)
	if err != nil {
		return ""
	}
	switch m := i.Mode(); {
	case m.IsRegular():
		return "it is a file"
	case m.IsDir():
		return "it is a directory"
	case m&fs.ModeNamedPipe != 0:
		return "it is a pipe"
	case m&fs.ModeSocket != 0:
		return "it is a socket"
	case m&fs.ModeDevice != 0:
		return "it is a device, but no terminal, or no hardware is behind it"
	}
	return ""
}

// nodeOf follows links to the node itself.
func nodeOf(path string) string {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		return real
	}
	return path
}
