//go:build !race

package sheet

const mostSteps = 12 // of a swap
