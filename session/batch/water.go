package batch

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

// WaterStep gives the step of the first water; nil: the batch has none. It is
// the last that was planned.
func (b *Batch) WaterStep() *Step {
	for i := range slices.Backward(b.Steps) {
		if b.Steps[i].IsWater() {
			return &b.Steps[i]
		}
	}
	return nil
}

// WaterIn is the water that went in: weighed by itself, and in solutions.
func (b *Batch) WaterIn() (d Delivery) {
	if st := b.WaterStep(); st != nil {
		d = st.Delivery()
	}
	for mix, m := range b.Mixes {
		if m.Solution() {
			d.add(b.brought(mix)[1])
		}
	}
	return d
}

// Wet reports whether water went in.
func (b *Batch) Wet() bool { return b.WaterIn().Delivered > 0 }

// WaterLine is the first water with all that is to come, in solutions too.
func (b *Batch) WaterLine() fact.Line {
	l := fact.Line{Material: sheet.WaterName}
	if st := b.WaterStep(); st != nil {
		l = st.Line
	}
	shift(&l, l, l.Target+b.dissolved)
	return l
}

// retargetWater makes the water's target fit the dry mass: as planned while
// something dry is still to come, then as it was weighed.
func (b *Batch) retargetWater() {
	st := b.WaterStep()
	if st == nil {
		return
	}
	dry := b.Dry
	if b.Finished || !slices.ContainsFunc(b.Steps, func(s Step) bool { return !s.Done() && !s.IsWater() }) {
		dry = 0
		for _, d := range b.Deliveries() {
			dry += d.Dry()
		}
	}
	st.Line = FirstWater(b.water, b.Plan.Dry, dry)
	shift(&st.Line, st.Line, st.Target-b.dissolved)
}

// FirstWater gives the line of the first water for another dry mass than was
// planned: its ratio to everything dry stays, and so does how far it may be off.
func FirstWater(plan fact.Line, planned, dry protocol.Mass) fact.Line {
	if planned <= 0 || dry <= 0 || dry == planned {
		return plan
	}
	r := new(big.Rat).Mul(plan.Target.Rat(), big.NewRat(int64(dry), int64(planned)))
	to, err := protocol.RoundRat(r)
	if err != nil || to <= 0 {
		return plan
	}
	l := plan
	l.Target = to
	l.Low, l.High = max(to-(plan.Target-plan.Low), protocol.Picogram), to+(plan.High-plan.Target)
	return l
}
