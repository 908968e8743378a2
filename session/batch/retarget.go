package batch

import (
	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

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
		w, d := b.inCup(i)
		if m.Lot == "" && !m.Solution() && weigh.Done() {
			// The same dilution as planned: the part stays what it was.
			shift(&dilute.Line, m.Parts[1].Step, sheet.Need(m.Parts[1].Step.Target, m.Parts[0].Step.Target, weigh.Delivered))
			w, d = b.inCup(i)
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
	b.dissolved = brought[sheet.WaterName]
	b.retargetWater()
	b.marks()
}

// inCup gives what is in a mixture of the material and of its carrier, as planned while it
// is not weighed.
func (b *Batch) inCup(mix int) (w, d protocol.Mass) {
	m := &b.Mixes[mix]
	if m.Lot != "" {
		return m.Parts[0].Mass, m.Parts[1].Mass
	}
	weigh, dilute, _ := b.CupSteps(mix)
	switch {
	case weigh.Done() && dilute.Done():
		return weigh.Delivered, dilute.Delivered
	case weigh.Done() && !m.Solution():
		return weigh.Delivered, dilute.Target
	}
	return m.Parts[0].Step.Target, m.Parts[1].Step.Target
}

func shift(l *fact.Line, from fact.Line, to protocol.Mass) {
	by := to - from.Target
	l.Target, l.Low, l.High = to, from.Low+by, from.High+by
}
