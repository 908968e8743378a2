//go:build !linux

package main

// clockSet tells whether something keeps the clock of this machine right.
func clockSet() (set, known bool) { return false, false }
