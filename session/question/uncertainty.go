package question

import (
	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/doubt"
)

// Weighs is the scale of a pan as far as its doubt goes, at the step where it stands.
func Weighs(b *batch.Batch, p *pan.Pan) doubt.Scale {
	d := b.Scale(p.Name()).Weighs()
	d.Step = p.Step()
	return d
}

// NetU is the U of one net weight on a pan, without the span of the scale.
func NetU(b *batch.Batch, p *pan.Pan) protocol.Mass { return doubt.RootUp(Weighs(b, p).Reading()) }

// Doubt is the U of a portion whose weight before the lift was not steady: what the
// reading still moved, on top of the usual. 0 when it was steady.
func Doubt(b *batch.Batch, p *pan.Pan) protocol.Mass {
	if p.Lift().Sure {
		return 0
	}
	return NetU(b, p) + p.LiftedContent().Abs()/20
}
