package session

import (
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/sheet"
)

// gauge is what the journal knows of one scale as an instrument: its last check and its
// last repeatability run. The zero value of either: never.
type gauge struct{ checked, repeat fact.Fact }

// gauges are the scales as instruments, by name.
type gauges map[string]gauge

// Reads reports whether facts of a kind matter here.
func (all *gauges) Reads(kind, _ string, _ time.Time, _ []byte) bool {
	return kind == (fact.Checked{}).Kind() || kind == (fact.Repeatability{}).Kind()
}

// Add takes what was found of a scale; the last counts.
func (all *gauges) Add(f fact.Fact) {
	if *all == nil {
		*all = gauges{}
	}
	switch v := f.Body.(type) {
	case fact.Checked:
		(*all)[v.Scale] = gauge{f, (*all)[v.Scale].repeat}
	case fact.Repeatability:
		(*all)[v.Scale] = gauge{(*all)[v.Scale].checked, f}
	}
}

// spread gives the repeatability that was measured on this scale as it is now: by
// its name, at its step, and not on another device. 0: none was.
func (all gauges) spread(s sheet.Scale) protocol.Mass {
	f, ok := all[s.Name].repeat.Body.(fact.Repeatability)
	if !ok || f.Step != s.Step || scale.HasSerial(f.Identity) && scale.HasSerial(s.Identity) && f.Identity != s.Identity {
		return 0
	}
	// Ten equal readings spread by nothing, which is measured all the same: the
	// rounding of the readings stands in the sheet's own formula.
	return max(f.Spread, 1)
}
