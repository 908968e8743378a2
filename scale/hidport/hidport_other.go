//go:build !linux

package hidport

import "tared/scale"

// Open says that this system cannot.
func Open(path string) (scale.Port, error) {
	return nil, &scale.PortError{Port: path, Kind: scale.ErrUnsupported, What: "HID scales are read on Linux only",
		Mend: "use a scale on a serial line, or port=eye"}
}

// List names none.
func List() ([]scale.Found, error) { return nil, nil }
