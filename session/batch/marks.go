package batch

import (
	"math/big"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/recipe"
	"tared/session/sheet"
)

// marks sets the marks of all weighings where the record names its rule: what is told to be
// in by the mark is in in the record.
func (b *Batch) marks() {
	if b.Plan.Rule == "" {
		return
	}
	for i := range b.Steps {
		st := &b.Steps[i]
		if st.Unplanned || st.seen == (seen{st.Target, st.Delivered, st.Low, st.High, st.Scale}) {
			continue
		}
		b.mark(st)
		st.seen = seen{st.Target, st.Delivered, st.Low, st.High, st.Scale}
	}
}

func (b *Batch) mark(st *Step) {
	if ofCup := st.Part == TakePart && b.Mixes[st.Mix].From == ""; ofCup && b.Plan.Rule != doubt.Guarded {
		return // its band is exact
	}
	allowed, step, in := b.StepAllowed(*st), b.Scale(st.Scale).Step, st.Delivered
	u := st.U
	if b.Plan.Rule == doubt.Guarded {
		u = b.expected(*st)
	}
	low, high := sheet.Accepted(b.Plan.Rule, st.Target-in, allowed, u, step)
	st.Low, st.High = max(low+in, protocol.Picogram), high+in
	if off := (in - st.Target).Abs(); st.Portions > 0 && (b.Plan.Rule == doubt.Simple && off <= allowed || doubt.Sure(in, st.DeliveredU(), st.Target, allowed)) {
		st.Low, st.High = min(st.Low, in), max(st.High, in) // it needs no other weighing
	}
}

// expected is the U that a step will have when what it still needs is in.
func (b *Batch) expected(st Step) protocol.Mass {
	if m := b.Mixes; st.Part == TakePart && m[st.Mix].From == "" {
		l := b.LineOf(m[st.Mix].Parts[0].Material)
		return sheet.Need(l.U, l.Target, st.Target) // with that of the mixture
	}
	s, left := b.Scale(st.Scale).Weighs(), max(st.Target-st.Delivered, 0)
	on := doubt.Both(st.On, []doubt.On{{Scale: st.Scale, Mass: left, Span: s.Span(left)}})
	v := new(big.Rat).SetInt(new(big.Int).Add(st.U2, doubt.Spans(on)))
	v.Add(v, new(big.Rat).SetInt(b.carried(st)))
	return doubt.RootUp(v.Add(v, s.Reading()))
}

// carried is U² of what mixtures are planned to bring of the material of a step, which is in
// the U of that material in the record.
func (b *Batch) carried(st Step) *big.Int {
	u2 := new(big.Int)
	for mix, m := range b.Mixes {
		if _, _, take := b.CupSteps(mix); take != nil && st.Part == NoPart && len(m.Parts) > 1 && recipe.Key(m.Parts[1].Material) == recipe.Key(st.Material) {
			u2 = doubt.AddSquare(u2, sheet.Aliquot{U: b.LineOf(m.Parts[0].Material).U}.CarrierU(take.U))
		}
	}
	return u2
}
