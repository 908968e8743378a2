package session

// What the bench does wrong today, and nothing else: each list may only shrink. What
// comes out right must go from it.

// faults are the scenes that end wrong, with the number of the fault.
var faults = map[string]int{
	"the journal is deleted in mid-pour": 1,
}

// presses are the single presses that do harm.
var presses = map[string]bool{}

// wrongs are how many of the few batches of TestProof go wrong, by mishap. Where it is
// none of them, some of many do.
var wrongs = map[string]int{
	"another cup": 0, // one heavier by less than may cling
	"two mishaps": 0,
}
