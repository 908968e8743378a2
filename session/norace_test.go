//go:build !race

package session

const batchesEach = 2
