package batch

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

// Part says what a step has to do with a mixture.
type Part uint8

// The parts. NoPart goes straight into the batch.
const (
	NoPart     Part = iota
	WeighPart       // the material that is diluted, into the mixing cup
	DilutePart      // its carrier, into the same cup
	TakePart        // some of the mixture, into the batch
)

// MixingCup is what the record calls the vessel of an aliquot.
const MixingCup = "mixing cup"

// Mix is a mixture of the batch.
type Mix struct {
	fact.Mix
	Mixed bool // a person said so, or it was mixed before this batch

	planned []fact.MixPart // the parts as they were planned
}

// InCup reports whether the step goes into a mixing cup.
func (s Step) InCup() bool { return s.Part == WeighPart || s.Part == DilutePart }

// Into names where the step goes, for the record; empty: the batch.
func (s Step) Into() string {
	if s.InCup() {
		return MixingCup
	}
	return ""
}

// layOut makes the weighings of the plan: a material that goes in diluted has
// three in its place, and what comes out of a tub has one in place of them all.
func (b *Batch) layOut() {
	add := func(l fact.Line, p Part, mix int) {
		b.Steps = append(b.Steps, Step{Line: l, Part: p, Mix: mix, U2: new(big.Int), Places: b.Scale(l.Scale).Step.Places()})
	}
	for _, m := range b.Plan.Mixes {
		if m.From == "" && (len(m.Parts) != 2 || b.lineOf(m.Parts[0].Material) < 0) {
			continue // no bench ever wrote such a plan
		}
		b.Mixes = append(b.Mixes, Mix{Mix: m, Mixed: m.From != "" && (b.Plan.Series.Cup != 1 || m.Mixed), planned: m.Parts})
		if m.From != "" {
			add(m.Take, TakePart, len(b.Mixes)-1)
		}
	}
	for _, l := range b.Plan.Lines {
		k := slices.IndexFunc(b.Mixes, func(m Mix) bool { return m.From == "" && m.Parts[0].Material == l.Material })
		switch {
		case b.InTub(l.Material):
		case k < 0:
			add(l, NoPart, 0)
		default:
			m := b.Mixes[k]
			add(m.Parts[0].Step, WeighPart, k)
			add(m.Parts[1].Step, DilutePart, k)
			add(m.Take, TakePart, k)
		}
	}
	if b.Plan.Water.Target > 0 {
		add(b.Plan.Water, NoPart, 0)
	}
	b.retarget()
}

// InTub reports whether a material comes out of the tub of a series.
func (b *Batch) InTub(material string) bool {
	return slices.ContainsFunc(b.Mixes, func(m Mix) bool {
		return m.From != "" && slices.ContainsFunc(m.Parts, func(p fact.MixPart) bool { return p.Material == material })
	})
}

// Fill tells a cup of a series what is in its tub, as that stands now: a correction
// of the tub reaches its cups. Nil: as it was known when the cup was planned.
func (b *Batch) Fill(tub *Batch) {
	for i, m := range b.Mixes {
		b.Mixes[i].Parts = m.planned
		if m.From == "" || tub == nil || tub.AtClosing == nil {
			continue
		}
		in := tub.Deliveries()
		b.Mixes[i].Parts = slices.Clone(m.planned)
		for k := range m.planned {
			p := &b.Mixes[i].Parts[k]
			if j := tub.lineOf(p.Material); j >= 0 {
				p.Mass, p.U, p.As = in[j].Delivered, in[j].U, in[j].As
			}
		}
	}
	b.retarget()
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

// Unmixed reports whether step i waits for a cup or a tub to be mixed.
func (b *Batch) Unmixed(i int) bool {
	return i >= 0 && b.Steps[i].Part == TakePart && !b.Steps[i].Over() && !b.Mixes[b.Steps[i].Mix].Mixed
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

// CupSteps gives the steps of a mixture that is mixed here.
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

// retarget makes the targets of what follows fit what is in the mixing cups: too
// much colourant gets more carrier, and the part to take holds what the recipe
// wants, whatever the two came to. The carrier's own target is what the parts do
// not bring. The first water follows the dry mass.
func (b *Batch) retarget() {
	brought := map[string]protocol.Mass{}
	for i := range b.Mixes {
		m := &b.Mixes[i]
		if m.From != "" {
			continue
		}
		weigh, dilute, take := b.CupSteps(i)
		l := b.LineOf(m.Parts[0].Material)
		if take.Skipped {
			brought[m.Parts[1].Material] += b.brought(i)[1].Mass
			continue
		}
		w, d := m.Parts[0].Step.Target, m.Parts[1].Step.Target // as planned
		if weigh.Done() {
			// The same dilution as planned: the part stays what it was.
			to := sheet.Need(d, w, weigh.Delivered)
			w = weigh.Delivered
			shift(&dilute.Line, m.Parts[1].Step, to)
			d = to
		}
		if weigh.Done() && dilute.Done() {
			d = dilute.Delivered
		}
		take.Target = sheet.Need(l.Target, w, w+d)
		take.Low, take.High = sheet.Need(l.Low, w, w+d), sheet.Need(l.High, w, w+d)
		if take.Done() {
			brought[m.Parts[1].Material] += b.brought(i)[1].Mass
		} else {
			brought[m.Parts[1].Material] += take.Target - l.Target
		}
	}
	for i := range b.Steps {
		st := &b.Steps[i]
		if less, ok := brought[st.Material]; ok && st.Part == NoPart {
			l := b.LineOf(st.Material)
			shift(&st.Line, l, l.Target-less)
		}
	}
	b.retargetWater()
}

// shift moves a target with its marks.
func shift(l *fact.Line, from fact.Line, to protocol.Mass) {
	by := to - from.Target
	l.Target, l.Low, l.High = to, from.Low+by, from.High+by
}

// parts gives what was mixed, in the order of the parts of a mixture.
func (b *Batch) parts(mix int) []Delivery {
	m := b.Mixes[mix]
	if m.From == "" {
		weigh, dilute, _ := b.CupSteps(mix)
		return []Delivery{weigh.Delivery(), dilute.Delivery()}
	}
	all := make([]Delivery, len(m.Parts))
	for k, p := range m.Parts {
		all[k] = Delivery{As: p.As, Delivered: p.Mass, U: p.U}
	}
	return all
}

// brought gives what the part that was taken of a mixture holds of each of what was
// mixed; nothing while nothing is mixed.
func (b *Batch) brought(mix int) []sheet.Weighed {
	_, _, take := b.CupSteps(mix)
	parts := b.parts(mix)
	in := make([]sheet.Weighed, len(parts))
	for k, p := range parts {
		in[k] = sheet.Weighed{Mass: p.Delivered, U: p.U}
	}
	held, err := sheet.Part(in, sheet.Weighed{Mass: take.Delivered, U: take.DeliveredU()})
	if err != nil {
		return make([]sheet.Weighed, len(in))
	}
	return held
}
