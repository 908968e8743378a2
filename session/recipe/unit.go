package recipe

import (
	"math/big"

	"tared/protocol"
	"tared/session/text"
)

// unit is what may stand behind a number.
type unit struct {
	name  string
	grams *big.Rat     // nil: parts or percent
	wrong text.Message // why it is refused
}

var units = map[string]*unit{
	"": {}, "parts": {}, "part": {}, "pts": {}, "pt": {}, "pbw": {},
	"%": {name: "%"}, "percent": {name: "%"}, "pct": {name: "%"},
	"g": gram, "gram": gram, "grams": gram, "gramme": gram, "grammes": gram, "gm": gram, "gms": gram,
	"kg": massUnit(protocol.UnitKilogram),
	"mg": massUnit(protocol.UnitMilligram),
	"gr": {wrong: text.New("recipe.gr")},
	"oz": ounce, "ounce": ounce, "ounces": ounce,
	"lb": pound, "lbs": pound, "pound": pound, "pounds": pound,
	"gn": grain, "grain": grain, "grains": grain,
}

var (
	gram  = massUnit(protocol.UnitGram)
	ounce = massUnit(protocol.UnitOunce)
	pound = massUnit(protocol.UnitPound)
	grain = massUnit(protocol.UnitGrain)
)

func massUnit(u protocol.Unit) *unit {
	return &unit{name: string(u), grams: protocol.Mass(u.Picograms()).Rat()}
}

func unitOf(k string) *unit { return units[k] }
