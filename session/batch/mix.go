package batch

import (
	"cmp"
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

// InTub reports whether a material comes out of the tub of a series.
func (b *Batch) InTub(material string) bool {
	return slices.ContainsFunc(b.Mixes, func(m Mix) bool {
		return m.From != "" && slices.ContainsFunc(m.Parts, func(p fact.MixPart) bool { return p.Material == material })
	})
}

// TubCorrected reports whether the tub holds other than when this cup was planned.
func (b *Batch) TubCorrected() bool {
	return slices.ContainsFunc(b.Mixes, func(m Mix) bool {
		return !slices.EqualFunc(m.Parts, m.planned, func(a, b fact.MixPart) bool { return a.Mass == b.Mass })
	})
}

// Diluted reports whether a material of the recipe goes in by a mixing cup.
func (b *Batch) Diluted(material string) bool {
	return slices.ContainsFunc(b.Mixes, func(m Mix) bool { return m.From == "" && m.Parts[0].Material == material })
}

// TakenFromTub gives what the batch took out of the tub of its series.
func (b *Batch) TakenFromTub() (sum protocol.Mass) {
	for _, st := range b.Steps {
		if st.Part == TakePart && b.Mixes[st.Mix].From != "" {
			sum += st.Delivered
		}
	}
	return sum
}

// CupSteps gives the steps of a mixture; of one that was mixed before only the part that is
// taken.
func (b *Batch) CupSteps(mix int) (weigh, dilute, take *Step) {
	for i := range b.Steps {
		if st := &b.Steps[i]; st.Mix == mix {
			switch st.Part {
			case WeighPart:
				weigh = st
			case DilutePart:
				dilute = st
			case TakePart:
				take = st
			}
		}
	}
	return weigh, dilute, take
}

// parts gives what was mixed, in the order of the parts of a mixture.
func (b *Batch) parts(mix int) []Delivery {
	m := b.Mixes[mix]
	if !m.Made() {
		weigh, dilute, _ := b.CupSteps(mix)
		return []Delivery{weigh.Delivery(), dilute.Delivery()}
	}
	all := make([]Delivery, len(m.Parts))
	for k, p := range m.Parts {
		all[k] = Delivery{As: p.As, Delivered: p.Mass, U: p.U, On: p.On}
	}
	return all
}

// Left gives what of a mixture of this batch is left over, and what it is; false where nobody
// knows, or nothing was mixed.
func (b *Batch) Left(mix int) (left protocol.Mass, c fact.Content, ok bool) {
	m := b.Mixes[mix]
	weigh, dilute, take := b.CupSteps(mix)
	if m.Made() || weigh.Delivered <= 0 || dilute.Delivered <= 0 || weigh.NotKnown+dilute.NotKnown > 0 || !m.Mixed {
		return 0, c, false
	}
	c = fact.Content{Of: b.Mark, Mixing: m.Mixing}
	for k, d := range b.parts(mix) {
		c.Parts = append(c.Parts, fact.MixPart{Material: cmp.Or(d.As, m.Parts[k].Material), Mass: d.Delivered, U: d.U, On: d.On})
	}
	return weigh.Delivered + dilute.Delivered - take.Delivered, c, take.NotKnown == 0
}

// Leaves reports whether something is left over of a mixture of a closed batch.
func (b *Batch) Leaves() bool {
	for i := range b.Mixes {
		if left, _, ok := b.Left(i); b.Finished && ok && left > 0 {
			return true
		}
	}
	return false
}

// brought gives what the part that was taken of a mixture holds of each of what was
// mixed; nothing while nothing is mixed.
func (b *Batch) brought(mix int) []sheet.Weighed {
	_, _, take := b.CupSteps(mix)
	parts := b.parts(mix)
	in := make([]sheet.Weighed, len(parts))
	for k, p := range parts {
		in[k] = sheet.Weighed{Mass: p.Delivered, U: p.U, On: p.On}
	}
	held, err := sheet.Part(in, sheet.Weighed{Mass: take.Delivered, U: take.DeliveredU(), On: take.On}, mixing(b.Mixes[mix].Mix))
	if err != nil {
		return make([]sheet.Weighed, len(in))
	}
	return held
}

// mixing is what a plan assumes of its mixture; nil: nothing.
func mixing(m fact.Mix) *big.Rat {
	if x, ok := new(big.Rat).SetString(m.Mixing); ok {
		return x
	}
	return nil
}
