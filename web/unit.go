package web

import (
	"maps"
	"regexp"
	"strings"

	"tared/session"
	"tared/session/calc"
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
	if volume, at, of := strings.Cut(p.Wet, " at "); of {
		in("l", &volume)
		p.Wet = volume + " at " + at
	}
	p.Allow = maps.Clone(p.Allow)
	for role, allowed := range p.Allow {
		in("%", &allowed)
		p.Allow[role] = allowed
	}
	if p.Series != nil {
		s := *p.Series
		in("g", &s.Cup)
		in("%", &s.Spare)
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

// keptIn gives those of the forms of the stock.
func keptIn(k session.KeepRequest) session.KeepRequest {
	if k.Lot != nil {
		l := *k.Lot
		in("g", &l.Amount)
		in("%", &l.Moisture)
		k.Lot = &l
	}
	if k.Left != nil {
		l := *k.Left
		in("g", &l.Amount)
		k.Left = &l
	}
	if k.Mixed != nil {
		m := *k.Mixed
		in("g", &m.Weighed, &m.Into)
		k.Mixed = &m
	}
	if k.Correct != nil {
		c := *k.Correct
		in("g", &c.Amount)
		in("%", &c.Moisture)
		k.Correct = &c
	}
	return k
}

// askedIn gives that of an argument of a question.
func askedIn(kind calc.Kind, text string) string {
	switch kind {
	case calc.Mass:
		in("g", &text)
	case calc.Volume:
		in("l", &text)
	case calc.Share:
		in("%", &text)
	}
	return text
}

func takenIn(t TakePort) TakePort {
	in("g", &t.Step, &t.Max)
	return t
}

func triedIn(t TryPort) TryPort {
	in("g", &t.Weight)
	return t
}

func checkedIn(c session.CheckRequest) session.CheckRequest {
	in("g", &c.Mass, &c.Shown)
	return c
}

func measuredIn(v session.VesselRequest) session.VesselRequest {
	in("g", &v.Water)
	return v
}
