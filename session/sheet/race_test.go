//go:build race

package sheet

// The race detector makes a plan ten times as slow, and finds nothing in one goroutine.
const mostSteps = 2
