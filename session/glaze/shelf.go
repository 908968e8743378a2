package glaze

import (
	"strings"

	"tared/session/material"
)

// Shelf is where analyses are looked up: a person's own first, then what Of knows of the
// materials table. The zero value has no own and the embedded table.
type Shelf struct {
	Own   []Analysis
	Table *material.Table
}

// Lookup finds the analysis of a material by its name or by another name of it.
func (s Shelf) Lookup(name string) (Analysis, bool) {
	m, known := s.Table.Or().Lookup(name)
	for _, a := range s.Own {
		if strings.EqualFold(a.Material, name) {
			return a, true
		}
		if o, ok := s.Table.Or().Lookup(a.Material); ok && known && o.Name == m.Name {
			return a, true
		}
	}
	if !known {
		return Analysis{}, false
	}
	return Of(m)
}
