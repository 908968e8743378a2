//go:build !linux

package serialport

// holder cannot tell on this system.
func holder(string) string { return "" }
