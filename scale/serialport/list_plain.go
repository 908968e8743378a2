//go:build darwin && !cgo

package serialport

import (
	"go.bug.st/serial"

	"tared/scale"
)

// List names the serial ports of this machine. Without cgo the library cannot ask
// macOS what is behind them.
func List() ([]scale.Found, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, err
	}
	var all []scale.Found
	for _, n := range names {
		if wanted(n) {
			all = append(all, scale.Found{Port: n, Resource: "serial"})
		}
	}
	return all, nil
}

func identity(string) string { return "" }
