//go:build !linux && (!darwin || cgo)

package serialport

import (
	"strings"

	"go.bug.st/serial/enumerator"

	"tared/scale"
)

// List names the serial ports of this machine.
func List() ([]scale.Found, error) {
	ports, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, err
	}
	var all []scale.Found
	for _, p := range ports {
		if !wanted(p.Name) {
			continue
		}
		f := scale.Found{Port: p.Name, Product: strings.TrimSpace(p.Manufacturer + " " + p.Product), Resource: "serial"}
		if p.IsUSB {
			f.USB = strings.ToLower(p.VID+":"+p.PID) + ":" + p.SerialNumber
		}
		all = append(all, f)
	}
	return all, nil
}

func identity(path string) string {
	found, _ := List()
	for _, f := range found {
		if f.Port == path {
			return f.USB
		}
	}
	return ""
}
