package batch

import (
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
)

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
