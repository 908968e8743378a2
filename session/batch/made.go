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

// Deliveries gives what reached the batch of each material of the recipe.
func (b *Batch) Deliveries() []Delivery {
	had := map[string]Delivery{}
	for _, st := range b.Steps {
		had[st.Material] = st.delivery()
	}
	return Moisten(b.Lines, Unmix(b.Lines, b.mixes(), had), b.Plan.Lots)
}

// Unmix gives what reached a batch of each of its lines. Had is what was weighed
// under each name: that of a line, or that of a step of a mixture, whose part
// counts to the materials in it, in the proportion in which they were mixed. A
// line whose mixture was left out counts as skipped when nothing of it went in
// by another way.
func Unmix(lines []fact.Line, mixes []fact.Mix, had map[string]Delivery) []Delivery {
	all := make([]Delivery, len(lines))
	at := map[string]int{}
	for i, l := range lines {
		all[i] = had[l.Material]
		at[l.Material] = i
	}
	for _, m := range mixes {
		in := make([]sheet.Weighed, len(m.Parts))
		as := make([]string, len(m.Parts))
		left := had[m.Take.Material].Skipped
		for k, p := range m.Parts {
			in[k], as[k] = sheet.Weighed{Mass: p.Mass, U: p.U}, p.As
			if p.Step != (fact.Line{}) {
				h := had[p.Step.Material]
				in[k], as[k] = sheet.Weighed{Mass: h.Delivered, U: h.U}, h.As
			}
		}
		take := had[m.Take.Material]
		held, err := sheet.Part(in, sheet.Weighed{Mass: take.Delivered, U: take.U})
		for k, p := range m.Parts {
			i, ok := at[p.Material]
			if !ok {
				continue
			}
			d := &all[i]
			if err == nil {
				d.Delivered += held[k].Mass
				n := square(d.U)
				d.U = sheet.RootUp(n.Add(n, square(held[k].U)), 1)
			}
			if d.As == "" {
				d.As = as[k]
			}
			// The carrier is weighed by itself as well.
			d.Skipped = d.Skipped || left && (k == 0 || m.From != "")
		}
	}
	return all
}

// LotOf gives where a material of a batch came from; the zero value: not known.
func LotOf(lots []fact.LotUsed, material string) fact.LotUsed {
	if i := slices.IndexFunc(lots, func(l fact.LotUsed) bool { return l.Material == material }); i >= 0 {
		return lots[i]
	}
	return fact.LotUsed{}
}

// Moisten tells what went in how moist it was: that of the lot it was planned
// from. Of what went in instead of it nothing is known, and it counts as dry.
func Moisten(lines []fact.Line, all []Delivery, lots []fact.LotUsed) []Delivery {
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

// AsMade gives the lines of a batch as they went in, for the fact that closes it,
// with the delivered base and everything delivered, both without moisture. A
// delivery belongs to a line by its place; lines without one got nothing.
//
// Shares are percent of the delivered base. Those of base materials are rounded
// by largest remainder, so that they add up to 100.000; an addition's is rounded
// half up.
func AsMade(lines []fact.Line, all []Delivery) (made []fact.Made, base, dry protocol.Mass) {
	all = append(slices.Clone(all), make([]Delivery, max(0, len(lines)-len(all)))...)
	onBase := Bases(lines)
	dried := DriedAll(all)
	for i := range lines {
		dry += dried[i].Delivered
		if onBase[i] {
			base += dried[i].Delivered
		}
	}
	texts := shareTexts(onBase, dried, base)
	for i, l := range lines {
		d := all[i]
		made = append(made, fact.Made{Material: l.Material, As: d.As, Role: l.Role, Target: l.Target, Delivered: d.Delivered, U: d.U,
			Share: texts[i], Verdict: Verdict(l, d)})
		if d.Moisture != nil {
			made[i].Dry = dried[i].Delivered
		}
	}
	return made, base, dry
}

// Verdict says how what went in of a line stands to its band: skipped, over, under, in.
func Verdict(l fact.Line, d Delivery) string {
	switch {
	case d.Skipped:
		return "skipped"
	case d.Delivered > l.High:
		return "over"
	case d.Delivered < l.Low:
		return "under"
	}
	return "in"
}
