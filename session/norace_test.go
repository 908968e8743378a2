//go:build !race

package session

const (
	batchesEach   = 2
	troublesToTry = 1000
)
