package session

// What the bench does wrong today, and nothing else: each list may only shrink. What
// comes out right must go from it.

// faults are the scenes that end wrong, with the number of the fault.
var faults = map[string]int{
	"the journal is deleted in mid-pour": 1,
}

// presses are the single presses that do harm.
var presses = map[string]bool{
	"another cup, lighter: keep":            true,
	"tipped while the cable was out: again": true,
}

// wrongs are how many of the few batches of TestProof go wrong, by mishap. Where it is
// none of them, some of many do.
var wrongs = map[string]int{
	"the display is held":            0,
	"the tare key":                   0,
	"the tare key holds the display": 1,
	"the tare key, and moving lines": 0,
	"the zero key":                   0,
	"two mishaps":                    0,
}
