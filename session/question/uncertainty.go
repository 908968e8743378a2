package question

import (
	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/sheet"
)

// NetU is the U of one net weight on a pan.
func NetU(b *batch.Batch, p *pan.Pan) protocol.Mass {
	_, u, _ := sheet.Uncertainty(p.Step(), b.Scale(p.Name()).Spread)
	return u
}

// Doubt is the U of a portion whose weight before the lift was not steady: what the
// reading still moved, on top of the usual. 0 when it was steady.
func Doubt(b *batch.Batch, p *pan.Pan) protocol.Mass {
	if p.Lift().Sure {
		return 0
	}
	return NetU(b, p) + p.LiftedContent().Abs()/20
}
