package material

import "fmt"

// Reminder gives the lines shown before the first dry material of a batch: mask
// and ventilation by name always, then what is really in this batch, then the
// deference to the sheet and the code.
func (t *Table) Reminder(names []string) []string {
	lines := []string{
		// HSE COSHH essentials CR1 for ceramics covers weighing out powders;
		// filter classes: 42 CFR 84 (N95 and better) and EN 149 (FFP2, FFP3).
		"Mask: put on a fitted respirator for fine dust (P100 or N95, FFP3 or FFP2); a beard spoils the seal.",
		"Ventilation: switch on the extraction, or open up without stirring the dust.",
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
		if seen[m.Name] && !m.Family {
			continue
		}
		seen[m.Name] = true
		says := m.Lines
		if m.Blocked != "" {
			says = append([]Said{{"blocked: " + m.Blocked, m.CodesBy}}, says...)
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
		lines = append(lines, fmt.Sprintf("%s: %s (%s).", list(a.names), a.said.Words, a.said.Source))
	}
	if len(unknown) > 0 {
		lines = append(lines, fmt.Sprintf("%s: not in the materials table; read the supplier's safety data sheet before opening the bag.", list(unknown)))
	}
	return append(lines, "These are reminders only: the supplier's safety data sheet and your local code come first.")
}

// Closing gives the lines shown after the last material. Sources: HSE COSHH
// essentials for ceramics, CR1; asbestossafety.gov.au, Pottery and ceramics.
func Closing() []string {
	return []string{
		"Wet-clean the bench, the scale and the floor, or use a vacuum with a HEPA filter.",
		"No dry sweeping, no blowing off: dried spills are dust again.",
		"Keep the mask on until the dust is gone, then wash hands, and change out of dusty clothes.",
		"What your local code and the supplier's safety data sheets say comes first.",
	}
}

func list(names []string) string {
	switch n := len(names); n {
	case 1:
		return names[0]
	case 2:
		return names[0] + " and " + names[1]
	default:
		s := names[0]
		for _, x := range names[1 : n-1] {
			s += ", " + x
		}
		return s + " and " + names[n-1]
	}
}
