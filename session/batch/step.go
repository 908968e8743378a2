package batch

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/sheet"
)

// Step is one weighing of the batch: a material, or what an aliquot needs.
type Step struct {
	fact.Line
	Part      Part // of mixture Mix
	Mix       int
	As        string // substitute
	Delivered protocol.Mass
	U2        *big.Int // sum of the squares of its portions' U, in squared units of a mass
	Portions  int
	Places    int    // decimals that its weights have
	Named     string // the scale that the sheet named, where it was moved to another
	Skipped   bool
	Kept      bool // over, and kept so
	Typed     bool
	Unplanned bool // it went in though nobody planned it
}

// Take is one portion that can be undone.
type Take struct {
	Seq       uint64
	Step      int
	Delivered protocol.Mass
	U         protocol.Mass
	By        string
	Asks      bool // a second person has not looked yet
}

// Over reports whether more than the high mark went in and nobody has decided
// yet. In a mixing cup nothing is over: what follows is made to fit.
func (s Step) Over() bool {
	return s.Delivered > s.High && !s.Kept && !s.Skipped && !s.InCup() && !s.Unplanned
}

// Done reports whether the step needs nothing more.
func (s Step) Done() bool {
	return s.Skipped || s.Kept || s.Unplanned || s.Delivered >= s.Low && (s.Delivered <= s.High || s.InCup())
}

// Left is what is still to go in: target and marks less what is in already.
func (s Step) Left() (target, low, high protocol.Mass) {
	return s.Target - s.Delivered, s.Low - s.Delivered, s.High - s.Delivered
}

// Verdict says how what went in stands to the band: under, in, over.
func (s Step) Verdict() string { return Verdict(s.Line, Delivery{Delivered: s.Delivered}) }

// IsWater reports whether the step is the first water.
func (s Step) IsWater() bool { return s.Role == string(sheet.Water) }

// DeliveredU is the U of all its portions together.
func (s Step) DeliveredU() protocol.Mass { return sheet.RootUp(s.U2, 1) }

// Delivery is what went in by this step.
func (s Step) Delivery() Delivery {
	return Delivery{As: s.As, Delivered: s.Delivered, U: s.DeliveredU(), Skipped: s.Skipped}
}

// Current gives the index of the step in work, -1 when there is none.
func (b *Batch) Current() int {
	if b == nil || b.Finished {
		return -1
	}
	for i, s := range b.Steps {
		if s.Over() {
			return i
		}
	}
	if k := b.Unconfirmed(); k >= 0 {
		return b.Takes[k].Step
	}
	if b.First != "" {
		if i := b.StepOf(b.First); i >= 0 && !b.Steps[i].Done() {
			return i
		}
	}
	for i, s := range b.Steps {
		if !s.Done() {
			return i
		}
	}
	return -1
}

// StepOf gives the index of a step by its name, -1 when there is none.
func (b *Batch) StepOf(material string) int {
	return slices.IndexFunc(b.Steps, func(s Step) bool { return s.Material == material })
}

// NextOn gives the next step but step i that is to be weighed on this scale and goes
// straight into the batch, -1 when there is none.
func (b *Batch) NextOn(i int, scale string) int {
	for k := range b.Steps {
		if st := b.Steps[k]; k != i && st.Scale == scale && st.Part == NoPart && !st.Done() && !st.Over() {
			return k
		}
	}
	return -1
}

// Waits reports whether hands are elsewhere than at the scale of step i: at a cup
// that is to be mixed, or a second person looks.
func (b *Batch) Waits(i int) bool {
	return b.Unmixed(i) || i >= 0 && !b.Steps[i].Over() && b.Unconfirmed() >= 0
}

// MaterialOf names the material of a step without what is to be done with it.
func (b *Batch) MaterialOf(st Step) string {
	switch {
	case st.As != "":
		return st.As
	case st.Part == WeighPart:
		return b.Mixes[st.Mix].Parts[0].Material
	case st.Part == DilutePart:
		return b.Mixes[st.Mix].Parts[1].Material
	}
	return st.Material
}

// leaveOut skips a step; with one of a mixing cup the whole cup is left out.
func (b *Batch) leaveOut(i int) {
	b.Steps[i].Skipped = true
	if st := b.Steps[i]; st.Part != NoPart && b.Mixes[st.Mix].From == "" {
		for k := range b.Steps {
			if b.Steps[k].Part != NoPart && b.Steps[k].Mix == st.Mix {
				b.Steps[k].Skipped = true
			}
		}
	}
}

// asksFor reports whether a portion waits for a second person.
func (b *Batch) asksFor(st Step, v fact.Portion) bool {
	has := func(kind string) bool { return slices.Contains(b.Plan.Confirm, kind) }
	return has("typed") && v.How == "typed" || has("strong") && st.Role == string(sheet.Strong)
}

// Unconfirmed gives the place in Takes of the portion that waits for a second
// person, -1 for none.
func (b *Batch) Unconfirmed() int {
	return slices.IndexFunc(b.Takes, func(t Take) bool { return t.Asks })
}

// confirm takes the yes of a second person into account.
func (b *Batch) confirm(step int) {
	for k := range b.Takes {
		if b.Takes[k].Step == step {
			b.Takes[k].Asks = false
		}
	}
}
