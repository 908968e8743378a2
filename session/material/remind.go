package material

import (
	"sync"

	"tared/session/text"
)

// practice is the source of what has none, as the table names it. In a notice that is to
// keep somebody from harm it says nothing.
var practice = sync.OnceValue(func() string { return text.New("data.practice").String() })

// Reminder gives the lines shown before the first dry material of a batch: mask
// and ventilation by name always, then what is really in this batch, then the
// deference to the sheet and the code.
func (t *Table) Reminder(names []string) []text.Message {
	lines := []text.Message{
		// HSE COSHH essentials CR1 for ceramics covers weighing out powders;
		// filter classes: 42 CFR 84 (N95 and better) and EN 149 (FFP2, FFP3).
		text.New("material.mask"),
		text.New("material.ventilation"),
	}
	// Each sentence once, with all the materials that it is about, in the order
	// in which they first come.
	type about struct {
		said  Said
		names []string
	}
	var abouts []about
	var unknown []string
	seen := map[string]bool{}
	for _, n := range names {
		m, ok := t.Lookup(n)
		if !ok {
			unknown = append(unknown, n)
			continue
		}
		if seen[n] {
			continue
		}
		seen[n] = true
		says := m.Lines
		if m.Blocked != "" {
			says = append([]Said{{text.New("material.blocked", text.Name("why", m.Blocked)).String(), m.CodesBy}}, says...)
		}
		for _, s := range says {
			found := false
			for i := range abouts {
				if abouts[i].said == s {
					abouts[i].names, found = append(abouts[i].names, n), true
				}
			}
			if !found {
				abouts = append(abouts, about{s, []string{n}})
			}
		}
	}
	for _, a := range abouts {
		if a.said.Source == practice() {
			lines = append(lines, text.New("material.reminder-plain", text.Names("materials", a.names), text.Term("words", a.said.Words)))
			continue
		}
		lines = append(lines, text.New("material.reminder", text.Names("materials", a.names), text.Term("words", a.said.Words), text.Term("source", a.said.Source)))
	}
	if len(unknown) > 0 {
		lines = append(lines, text.New("material.unlisted", text.Names("materials", unknown)))
	}
	return append(lines, text.New("material.defer"))
}

// Closing gives the lines shown after the last material. Sources: HSE COSHH
// essentials for ceramics, CR1; asbestossafety.gov.au, Pottery and ceramics.
func Closing() []text.Message {
	return []text.Message{
		text.New("material.wet-clean"),
		text.New("material.no-sweeping"),
		text.New("material.wash"),
		text.New("material.codes-first"),
	}
}
