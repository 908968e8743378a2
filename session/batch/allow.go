package batch

import (
	"tared/protocol"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
)

// Allowed is how far a material may be off, exactly: the marks of the page are that in
// steps of its scale.
func (b *Batch) Allowed(l fact.Line) protocol.Mass {
	return max(AllowedFor(l, b.allow, b.names).Of(l.Target), 1)
}

// StepAllowed is the same of one weighing: what comes in by itself may be off by what the
// whole material may, what goes into a mixing cup by two parts in a hundred.
func (b *Batch) StepAllowed(st Step) protocol.Mass {
	switch {
	case st.InCup():
		return sheet.Standard(sheet.Strong).Of(st.Target)
	case st.Part == TakePart && b.Mixes[st.Mix].From == "": // as what is diluted in it
		l := b.LineOf(b.Mixes[st.Mix].Parts[0].Material)
		return max(sheet.Need(b.Allowed(l), l.Target, st.Target), 1)
	case b.lineOf(st.Material) >= 0:
		return b.Allowed(b.LineOf(st.Material))
	}
	return b.Allowed(st.Line)
}

// Shown writes a target of a step as its scale shows it, with more digits where what is
// allowed asks for them.
func (b *Batch) Shown(m protocol.Mass, st Step) string {
	s := b.Scale(st.Scale)
	return m.ToWeigh(s.Unit, s.Step, b.StepAllowed(st))
}

// AllowedFor gives the rule of a material.
func AllowedFor(l fact.Line, roles map[sheet.Role]sheet.Allow, names map[string]sheet.Allow) sheet.Allow {
	for name, a := range names {
		if recipe.Key(name) == recipe.Key(l.Material) {
			return a
		}
	}
	if a, ok := roles[sheet.Role(l.Role)]; ok {
		return a
	}
	return sheet.Standard(sheet.Role(l.Role))
}
