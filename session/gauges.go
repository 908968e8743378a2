package session

import (
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/session/doubt"
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

// measured adds to a scale what was found of it as it is now: by its name, at its step, and
// not on another device. Ten equal readings spread by nothing, which is measured all the
// same: the rounding of the readings stands in the formula of U.
func (all gauges) measured(s sheet.Scale) sheet.Scale {
	same := func(step protocol.Mass, identity string) bool {
		return step == s.Step && (!scale.HasSerial(identity) || !scale.HasSerial(s.Identity) || identity == s.Identity)
	}
	g := all[s.Name]
	if f, ok := g.repeat.Body.(fact.Repeatability); ok && same(f.Step, f.Identity) && s.Spread == 0 && !s.Measured {
		s.Spread, s.Measured, s.Placings = f.Spread, true, uint64(len(f.Shown))
	}
	if c, ok := g.checked.Body.(fact.Checked); ok && same(c.Step, c.Identity) {
		s.Check = doubt.Check{Mass: c.Mass, Deviation: c.Deviation, Allowed: c.Allowed, Failed: !c.Pass}
	}
	return s
}
