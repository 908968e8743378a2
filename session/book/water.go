package book

import (
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
)

// firstWater gives the first water as planned and as it went in, beside so much
// dry; nil: it was no step.
func (n *Batch) firstWater(dry protocol.Mass) *Line {
	st := n.WaterStep()
	if st == nil {
		return nil
	}
	o := n.line(batch.Material{Line: st.Line, In: st.Delivery(), Portions: st.Portions, Places: st.Places, Kept: st.Kept})
	if n.Finished {
		o.Share = batch.OfDry(st.Delivered, dry)
	}
	if c := n.AtClosing; c != nil && c.WaterStep().Delivered != st.Delivered {
		_, _, dry := batch.AsMade(c.Lines, c.Deliveries())
		o.Was, o.WasShare = &Amount{c.WaterStep().Delivered, st.Places}, batch.OfDry(c.WaterStep().Delivered, dry)
		o.Corrected = n.corrections(st.Material)
	}
	o.Words = lineWords(o)
	return &o
}

// watered tells when the last of the first water went in; zero: none did.
func (n *Batch) watered() (at time.Time) {
	if !n.Wet() {
		return at
	}
	water := n.WaterStep().Material
	for _, t := range n.facts {
		if p, ok := t.Body.(fact.Portion); ok && !t.void && p.Material == water {
			at = t.At
		}
	}
	return at
}
