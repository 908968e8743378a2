//go:build race

package session

import "flag"

// The race detector makes a batch without a clock ten times as slow, and finds
// nothing in one goroutine.
const (
	batchesEach   = 1
	spotsToTry    = 3 // and mishaps, and scenes
	troublesToTry = 4 // .ci/run tries all of them without the detector
)

// Of batches of chance, too, only some are tried with it; all are without.
func init() { _ = flag.Set("rapid.checks", "25") }
