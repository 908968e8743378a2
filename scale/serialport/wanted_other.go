//go:build !linux

package serialport

import "strings"

// wanted leaves out the call-in twin that macOS has of every port: opening it
// waits for a carrier that a scale never gives.
func wanted(name string) bool { return !strings.HasPrefix(name, "/dev/tty.") }
