package hidport

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"tared/scale"
)

const readWait = 200 * time.Millisecond

// system is where the kernel shows its devices; a test has its own.
type system struct{ sys, dev string }

var here = system{"/sys", "/dev"}

// Open opens the scale behind path. The first report is dropped: it may be a
// stale one from before. Errors are *scale.PortError.
func Open(path string) (scale.Port, error) { return here.open(path) }

// List names the HID scales of this machine.
func List() ([]scale.Found, error) { return here.list() }

// reports is what an open device gives: one report a Read.
type reports interface {
	io.ReadCloser
	SetReadDeadline(time.Time) error
}

type port struct {
	file     reports
	path     string
	usb      string
	numbered bool
	started  bool
}

func (s system) open(path string) (scale.Port, error) {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return nil, &scale.PortError{Port: path, Kind: scale.ErrNoPort, Cause: err, Mend: "plug the scale in and switch it on"}
	}
	name := filepath.Base(real)
	descriptor, err := os.ReadFile(s.sys + "/class/hidraw/" + name + "/device/report_descriptor")
	if err != nil {
		return nil, &scale.PortError{Port: path, Kind: scale.ErrNotPort, What: "the kernel knows no such device", Cause: err,
			Mend: `name the port that it has now`}
	}
	is, numbered := describes(descriptor)
	if !is {
		return nil, &scale.PortError{Port: path, Kind: scale.ErrNotPort, What: "it is a device for something else, such as a keyboard",
			Mend: `name the port that it has now`}
	}
	f, err := os.OpenFile(real, os.O_RDONLY, 0)
	switch {
	case errors.Is(err, os.ErrPermission):
		return nil, &scale.PortError{Port: path, Kind: scale.ErrDenied, What: "hidraw devices are root's by default", Cause: err,
			Mend: "put the rule for scales in its place (\"tared setup rules\" shows it, \"sudo tared setup --write\" writes it), then plug the scale in again"}
	case err != nil:
		return nil, &scale.PortError{Port: path, Kind: scale.ErrGone, Cause: err, Mend: "plug the scale in again"}
	}
	id, _ := s.identity(name)
	return &port{file: f, path: path, usb: id, numbered: numbered}, nil
}

// Read gives one report, with a number in front of it in any case.
func (p *port) Read(b []byte) (int, error) {
	if len(b) < 2 {
		return 0, io.ErrShortBuffer
	}
	if err := p.file.SetReadDeadline(time.Now().Add(readWait)); err != nil {
		return 0, p.gone(err)
	}
	into := b
	if !p.numbered {
		into = b[1:]
	}
	n, err := p.file.Read(into)
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		return 0, nil
	case err != nil:
		return 0, p.gone(err)
	case n == 0:
		return 0, p.gone(io.EOF)
	}
	if !p.started {
		p.started = true
		return 0, nil
	}
	if !p.numbered {
		b[0] = 3 // the usual number of the weight report, which this device leaves out
		n++
	}
	return n, nil
}

// Write refuses: few scales obey a control report, and sources differ on its bytes.
func (p *port) Write([]byte) (int, error) {
	return 0, &scale.PortError{Port: p.path, Kind: scale.ErrUnsupported, What: "a HID scale is listened to only", Mend: "leave out ask"}
}

// Close frees the device.
func (p *port) Close() error { return p.file.Close() }

// USB gives vendor:product:serial.
func (p *port) USB() string { return p.usb }

// Speaks names the one format.
func (p *port) Speaks() string { return Format }

func (p *port) gone(err error) error {
	return &scale.PortError{Port: p.path, Kind: scale.ErrGone, Cause: err,
		Mend: "these scales switch themselves off after some minutes; switch it on and it is taken up again by itself"}
}

func (s system) list() ([]scale.Found, error) {
	entries, err := os.ReadDir(s.sys + "/class/hidraw")
	if err != nil && !os.IsNotExist(err) {
		return nil, err
	}
	var all []scale.Found
	for _, e := range entries {
		descriptor, err := os.ReadFile(s.sys + "/class/hidraw/" + e.Name() + "/device/report_descriptor")
		if err != nil {
			continue // gone in the meantime
		}
		if is, _ := describes(descriptor); !is {
			continue
		}
		f := scale.Found{Port: s.dev + "/" + e.Name(), Resource: "hid"}
		f.USB, f.Product = s.identity(e.Name())
		all = append(all, f)
	}
	return all, nil
}

// identity reads the uevent file: HID_ID=0003:00000922:00008003, HID_NAME, HID_UNIQ.
func (s system) identity(name string) (usb, product string) {
	b, err := os.ReadFile(s.sys + "/class/hidraw/" + name + "/device/uevent")
	if err != nil {
		return "", ""
	}
	var serial string
	for line := range strings.Lines(string(b)) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), "=")
		switch key {
		case "HID_ID":
			if parts := strings.Split(value, ":"); len(parts) == 3 && len(parts[1]) == 8 && len(parts[2]) == 8 {
				usb = strings.ToLower(parts[1][4:] + ":" + parts[2][4:])
			}
		case "HID_NAME":
			product = value
		case "HID_UNIQ":
			serial = value
		}
	}
	if usb != "" {
		usb += ":" + serial
	}
	return usb, product
}
