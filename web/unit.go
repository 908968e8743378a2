package web

import (
	"regexp"
	"strings"

	"tared/session"
	"tared/session/plan"
)

// A field that says its unit beside it takes a bare number: what is typed into it gets that
// unit. What has a unit keeps it, and what is no number is left to who understands it.

var bareNumber = regexp.MustCompile(`^\d[\d.,'\x{00a0}\x{202f} ]*$`)

func in(unit string, fields ...*string) {
	for _, f := range fields {
		if s := strings.TrimSpace(*f); bareNumber.MatchString(s) {
			*f = s + unit
		}
	}
}

// plannedIn gives the units of the form of the sheet.
func plannedIn(p plan.Request) plan.Request {
	in("g", &p.Base, &p.Dry, &p.Container, &p.Most)
	in("%", &p.Water)
	if p.Series != nil {
		s := *p.Series
		in("g", &s.Cup, &s.Spare)
		p.Series = &s
	}
	return p
}

// enteredIn gives those of the forms of a batch.
func enteredIn(e session.EntryRequest) session.EntryRequest {
	if e.Watered != nil {
		w := *e.Watered
		in("g", &w.Added, &w.Sample, &w.Bottle)
		in("ml", &w.Volume)
		e.Watered = &w
	}
	if e.Correct != nil {
		c := *e.Correct
		in("g", &c.Weight)
		e.Correct = &c
	}
	return e
}

func checkedIn(c session.CheckRequest) session.CheckRequest {
	in("g", &c.Mass, &c.Shown)
	return c
}

func measuredIn(v session.VesselRequest) session.VesselRequest {
	in("g", &v.Water)
	return v
}
