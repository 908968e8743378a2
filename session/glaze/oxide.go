package glaze

import (
	"slices"
	"strings"

	"tared/session/material"
)

// Column is where an oxide stands in the unity formula.
type Column string

// The columns.
const (
	Flux  Column = "flux"  // R2O and RO: their moles add up to one
	Amph  Column = "amph"  // R2O3: alumina, boron oxide, iron oxide
	Acid  Column = "acid"  // RO2: silica, titania, and phosphorus oxide
	Apart Column = "apart" // what colours or opacifies; sources put it in several places
)

// Oxide is one of the oxides that are counted.
type Oxide struct {
	Name    string  `json:"oxide"`
	Column  Column  `json:"column"`
	Molar   float64 `json:"molar"` // g/mol, from the atomic weights of package material
	element string
	atoms   float64 // of the element in one oxide
}

// Oxides are all that are counted, in the order in which they are shown.
var Oxides = func() (all []Oxide) {
	for _, group := range []struct {
		column Column
		names  []string
	}{
		{Flux, []string{"Li2O", "Na2O", "K2O", "MgO", "CaO", "SrO", "BaO", "ZnO", "PbO"}},
		{Amph, []string{"Al2O3", "B2O3", "Fe2O3"}},
		{Acid, []string{"SiO2", "TiO2", "P2O5"}},
		{Apart, []string{"ZrO2", "SnO2", "CoO", "CuO", "MnO", "NiO", "Cr2O3", "V2O5", "CeO2", "Pr6O11", "Nd2O3", "Er2O3", "Y2O3", "Bi2O3", "Ag2O"}},
	} {
		for _, name := range group.names {
			f, err := material.ParseFormula(name)
			if err != nil {
				panic(err) // the list stands above
			}
			element := strings.TrimRight(name[:strings.IndexByte(name, 'O')], "0123456789")
			molar, _ := f.Molar().Float64()
			all = append(all, Oxide{name, group.column, molar, element, float64(f.Atoms(element))})
		}
	}
	return all
}()

// count is how many oxides there are. An amount of each is an array in their order.
const count = 30

type amounts [count]float64

// places is where each oxide stands in Oxides.
var places = func() map[string]int {
	all := map[string]int{}
	for i, o := range Oxides {
		all[o.Name] = i
	}
	return all
}()

// named finds an oxide as a person writes it, without regard to case; -1: there is none.
func named(name string) int {
	return slices.IndexFunc(Oxides, func(o Oxide) bool { return strings.EqualFold(o.Name, name) })
}

// sum gives the total of a column; "" is all.
func (a amounts) sum(c Column) (total float64) {
	for i, o := range Oxides {
		if c == "" || o.Column == c {
			total += a[i]
		}
	}
	return total
}
