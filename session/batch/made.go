package batch

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/doubt"
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
	U         protocol.Mass // of the sum
	On        []doubt.On    // of it, what was weighed on each scale
	Skipped   bool
	NotKnown  bool // nobody knows how much went in, beside what was delivered
	// Moisture is that of what went in, in percent of it; nil: it was dry.
	Moisture *big.Rat
}

// Dried is what was delivered as the recipe counts it. The moisture is taken as
// exact, so U shrinks with the mass.
func (d Delivery) Dried() Delivery {
	dry := func(m protocol.Mass) protocol.Mass { return sheet.Dried(m, d.Moisture) }
	d.Delivered, d.U, d.On = dry(d.Delivered), dry(d.U), slices.Clone(d.On)
	for i, x := range d.On {
		d.On[i] = doubt.On{Scale: x.Scale, Mass: dry(x.Mass), Span: dry(x.Span)}
	}
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

// PortionVerdict says how a portion stands to its own band: under, in, over, cannot-tell,
// or not-known.
func PortionVerdict(f fact.Portion) string {
	switch {
	case f.How == Unknown:
		return Unknown
	case f.Rule == "":
		return byMarks(f.Delivered, f.Low, f.High)
	}
	return string(f.Rule.Judge(f.Delivered, f.U, f.Target, f.Allowed))
}

// marked is the verdict of a material in records that name no rule.
func marked(l fact.Line, d Delivery) string {
	switch {
	case d.Skipped:
		return "skipped"
	case d.NotKnown && d.Delivered <= l.High:
		return Unknown
	}
	return byMarks(d.Delivered, l.Low, l.High)
}

// byMarks is the verdict of records that name no rule.
func byMarks(m, low, high protocol.Mass) string {
	switch {
	case m > high:
		return "over"
	case m < low:
		return "under"
	}
	return "in"
}
