//go:build race

package main

// With the race detector on the test it goes into the program that the test
// starts, too.
func init() { raceFlag = []string{"-race"} }
