// Package recipe reads and writes the text of a recipe: a name and an amount a
// line, base materials that are shares of 100, additions on top of them.
package recipe

import "math/big"

// Recipe is a text understood.
type Recipe struct {
	Title string // from the first comment, or empty
	Notes string // the other comments
	Items []Item // in the order of the text
	Text  string // as given
}

// Item is one material.
type Item struct {
	Name     string
	Amount   *big.Rat // as written
	Addition bool     // on top of the base
	Share    *big.Rat // percent of the base, exact: base items add up to 100
	Line     int      // line in the text, from 1
	Note     string   // words behind the amount
}
