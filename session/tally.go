package session

import (
	"time"

	"tared/session/fact"
)

// Tally is what a bench has counted since its start, and how it stands, for whoever looks
// after the machine. It names no person, no material and no batch.
type Tally struct {
	Bench     string // fingerprint of its key; empty: it has none
	Sign      string // of it, on marks, tiles and lots
	Epoch     uint64 // of its journal
	Scales    []ScaleTally
	Seq       uint64                      // of the last line of the journal
	Recording bool                        // the journal takes lines
	Working   bool                        // a batch is open
	Takes     uint64                      // portions that were recorded
	Syncs     [len(SyncBounds) + 1]uint64 // writes of the journal, by how long each took; the last is of all that were longer
	SyncTime  time.Duration               // of all of them
}

// ScaleTally is what is counted of one scale. Lines are counted from the last time on that
// its port was opened.
type ScaleTally struct {
	Name                    string
	Up                      bool
	Lines, Damaged, Foreign uint64
	Gaps                    uint64 // times that it was lost or fell silent
}

// SyncBounds are the times by which writes of the journal are told apart: a disk in a
// computer takes below a millisecond, a memory card up to a second.
var SyncBounds = [...]time.Duration{250 * time.Microsecond, time.Millisecond, 4 * time.Millisecond, 16 * time.Millisecond,
	64 * time.Millisecond, 250 * time.Millisecond, time.Second, 4 * time.Second}

// tallied are what a Tally has of the bench's own. Only who owns the bench touches them.
type tallied struct {
	takes    uint64
	syncs    [len(SyncBounds) + 1]uint64
	syncTime time.Duration
}

// synced counts a write of the journal, and what was in it.
func (c *tallied) synced(took time.Duration, facts []fact.Fact) {
	i := 0
	for i < len(SyncBounds) && took > SyncBounds[i] {
		i++
	}
	c.syncs[i]++
	c.syncTime += took
	for _, f := range facts {
		if _, ok := f.Body.(fact.Portion); ok {
			c.takes++
		}
	}
}
