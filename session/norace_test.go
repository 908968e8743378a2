//go:build !race

package session

const (
	batchesEach   = 2
	spotsToTry    = 1000 // and mishaps, and scenes
	troublesToTry = 1000
)
