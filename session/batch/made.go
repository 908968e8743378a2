package batch

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

// SharePlaces is how many decimals a share is written with: a gram in a hundred
// kilograms of base.
const SharePlaces = 3

// Delivery is what was delivered of one planned material.
type Delivery struct {
	As        string        // what went in instead, when substituted
	Delivered protocol.Mass // sum of the portions that count, as weighed
	U         protocol.Mass // root of the sum of the squares of their U
	Skipped   bool
	NotKnown  bool // nobody knows how much went in, beside what was delivered
	// Moisture is that of what went in, in percent of it; nil: it was dry.
	Moisture *big.Rat
}

// Dried is what was delivered as the recipe counts it. The moisture is taken as
// exact, so U shrinks with the mass.
func (d Delivery) Dried() Delivery {
	d.Delivered, d.U = sheet.Dried(d.Delivered, d.Moisture), sheet.Dried(d.U, d.Moisture)
	return d
}

// Dry is what of it is dry.
func (d Delivery) Dry() protocol.Mass { return d.Dried().Delivered }

// DriedAll gives all of them as the recipe counts them.
func DriedAll(all []Delivery) []Delivery {
	out := make([]Delivery, len(all))
	for i, d := range all {
		out[i] = d.Dried()
	}
	return out
}

// LotOf gives where a material of a batch came from; the zero value: not known.
func LotOf(lots []fact.LotUsed, material string) fact.LotUsed {
	if i := slices.IndexFunc(lots, func(l fact.LotUsed) bool { return l.Material == material }); i >= 0 {
		return lots[i]
	}
	return fact.LotUsed{}
}

// moisten tells what went in how moist it was: that of the lot it was planned
// from. Of what went in instead of it nothing is known, and it counts as dry.
func moisten(lines []fact.Line, all []Delivery, lots []fact.LotUsed) []Delivery {
	for i, l := range lines {
		if w, ok := new(big.Rat).SetString(LotOf(lots, l.Material).Moisture); ok && i < len(all) && all[i].As == "" {
			all[i].Moisture = w
		}
	}
	return all
}

// Dry gives a weighed amount of a material of a batch without its moisture.
func Dry(lots []fact.LotUsed, material string, weighed protocol.Mass) protocol.Mass {
	w, _ := new(big.Rat).SetString(LotOf(lots, material).Moisture)
	return sheet.Dried(weighed, w)
}

// Unknown is the verdict on what went in of a material where nobody knows how much.
const Unknown = "not-known"

// PortionVerdict says how a portion stands to its own band: under, in, over, or not-known.
func PortionVerdict(f fact.Portion) string {
	if f.How == Unknown {
		return Unknown
	}
	return against(f.Delivered, f.Low, f.High)
}

func against(m, low, high protocol.Mass) string {
	switch {
	case m > high:
		return "over"
	case m < low:
		return "under"
	}
	return "in"
}

// Verdict says how what went in of a line stands to its band: skipped, over, under, in, or
// not-known.
func Verdict(l fact.Line, d Delivery) string {
	switch {
	case d.Skipped:
		return "skipped"
	case d.NotKnown && d.Delivered <= l.High:
		return Unknown
	}
	return against(d.Delivered, l.Low, l.High)
}
