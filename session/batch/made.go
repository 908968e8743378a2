package batch

import (
	"cmp"
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

// Deliveries gives what reached the batch of each material of the recipe: what was
// weighed of it by itself, and what it has in parts of mixtures, in the proportion in
// which they were mixed. A material whose mixture was left out counts as skipped
// when it is not weighed by itself as well.
func (b *Batch) Deliveries() []Delivery {
	all := make([]Delivery, len(b.Lines))
	for i, l := range b.Lines {
		if k := b.StepOf(l.Material); k >= 0 {
			all[i] = b.Steps[k].Delivery()
		}
	}
	for mix, m := range b.Mixes {
		_, _, take := b.CupSteps(mix)
		parts, brought := b.parts(mix), b.brought(mix)
		for k, p := range m.Parts {
			i := b.lineOf(p.Material)
			if i < 0 {
				continue
			}
			d := &all[i]
			d.Delivered += brought[k].Mass
			d.U = sheet.RootUp(sheet.AddSquare(sheet.AddSquare(nil, d.U), brought[k].U), 1)
			d.As = cmp.Or(d.As, parts[k].As)
			d.Skipped = d.Skipped || take.Skipped && m.whole(k)
		}
	}
	return moisten(b.Lines, all, b.Plan.Lots)
}

// whole reports whether part k of a mixture goes into the batch by it alone. The
// carrier of an aliquot is weighed by itself as well.
func (m Mix) whole(k int) bool { return k == 0 || m.From != "" }

// Material is one material of the recipe as it stands.
type Material struct {
	Line     fact.Line
	In       Delivery
	Portions int
	Places   int  // decimals that its weights have
	Kept     bool // over, and a person kept it so
}

// Materials gives those of the recipe, then what went in though nobody planned it.
func (b *Batch) Materials() []Material {
	all := make([]Material, len(b.Lines))
	for i, in := range b.Deliveries() {
		l := b.Lines[i]
		all[i] = Material{Line: l, In: in, Places: b.Scale(l.Scale).Step.Places()}
		if k := b.StepOf(l.Material); k >= 0 {
			st := b.Steps[k]
			all[i].Portions, all[i].Places, all[i].Kept = st.Portions, st.Places, st.Kept
		}
	}
	for mix, m := range b.Mixes {
		_, _, take := b.CupSteps(mix)
		for k, p := range m.Parts {
			i := b.lineOf(p.Material)
			if i < 0 {
				continue
			}
			all[i].Portions += take.Portions
			if m.whole(k) {
				// A part in so many can be known finer than a step of the scale.
				all[i].Places = max(all[i].Places, places(all[i].In.U))
				all[i].Kept = all[i].Kept || take.Kept
			}
		}
	}
	return all
}

// places gives the decimals that show two figures of an uncertainty.
func places(u protocol.Mass) int {
	n := 0
	for unit := protocol.Gram; u > 0 && u < 10*unit && n < 6; unit /= 10 {
		n++
	}
	return n
}

// OutOfBags gives what was taken out of the bags for a material: what went in, and
// what stayed in a mixing cup; in a cup of a series its part of the tub.
func (b *Batch) OutOfBags(m Material) protocol.Mass {
	sum := m.In.Delivered
	for mix, x := range b.Mixes {
		if x.From != "" {
			continue
		}
		parts, brought := b.parts(mix), b.brought(mix)
		for k, p := range x.Parts {
			if p.Material == m.Line.Material {
				sum += parts[k].Delivered - brought[k].Mass
			}
		}
	}
	return sum
}

// Verdict says how what went in of a material stands to its band; it is empty while
// the batch is open and nothing is in of it yet.
func (b *Batch) Verdict(l fact.Line, in Delivery, portions int) string {
	if !b.Finished && !in.Skipped && portions == 0 {
		return ""
	}
	return Verdict(l, in)
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
