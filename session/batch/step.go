package batch

import (
	"math/big"

	"tared/protocol"
	"tared/session/doubt"
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
	U2        *big.Int   // sum of the squares of its portions' U less their spans, in squared units of a mass
	On        []doubt.On // what was weighed on each scale
	Portions  int
	Places    int           // decimals that its weights have
	Grain     protocol.Mass // by how much it must be over to be too much; 0: by anything
	Named     string        // the scale that the sheet named, where it was moved to another
	Skipped   bool
	Kept      bool // over, and kept so
	Typed     bool
	Unplanned bool // it went in though nobody planned it
	NotKnown  int  // portions of which nobody knows how much went in
	seen      seen // by its marks
}

// Take is one portion that can be undone.
type Take struct {
	Seq       uint64
	Step      int
	Delivered protocol.Mass
	U         protocol.Mass
	On        doubt.On
	By        string
	Asks      bool // a second person has not looked yet
	NotKnown  bool // how much went in
}

// Name is what goes in under this step: the material, or its substitute.
func (s Step) Name() string {
	if s.As != "" {
		return s.As
	}
	return s.Material
}

// Beyond reports whether an amount is over a high mark by as much as a scale can show,
// which is its step. The mark is exact and may lie between two weights of the scale;
// nobody is asked to decide over what it cannot show.
func Beyond(amount, high, step protocol.Mass) bool { return amount-high >= max(step, 1) }

// Over reports whether too much went in and nobody has decided yet. In a mixing cup
// nothing is over: what follows is made to fit.
func (s *Step) Over() bool {
	return Beyond(s.Delivered, s.High, s.Grain) && !s.Kept && !s.Skipped && !s.InCup() && !s.Unplanned
}

// Done reports whether the step needs nothing more. Of what is not known nothing more is
// asked for, as if nothing had gone in.
func (s *Step) Done() bool {
	return s.Skipped || s.Kept || s.Unplanned || s.NotKnown > 0 || s.Delivered >= s.Low && (!Beyond(s.Delivered, s.High, s.Grain) || s.InCup())
}

// Left is what is still to go in: target and marks less what is in already.
func (s *Step) Left() (target, low, high protocol.Mass) {
	return s.Target - s.Delivered, s.Low - s.Delivered, s.High - s.Delivered
}

// IsWater reports whether the step is the first water.
func (s Step) IsWater() bool { return s.Role == string(sheet.Water) }

// DeliveredU is the U of all its portions together.
func (s Step) DeliveredU() protocol.Mass {
	return doubt.Root(new(big.Int).Add(s.U2, doubt.Spans(s.On)))
}

// count adds what a portion delivered, or takes it away again.
func (s *Step) count(t Take) {
	s.Delivered += t.Delivered
	s.U2 = new(big.Int).Add(s.U2, doubt.Own(t.U, []doubt.On{t.On}))
	s.On = doubt.Both(s.On, []doubt.On{t.On})
}

func (s *Step) uncount(t Take) {
	s.Delivered -= t.Delivered
	s.U2 = new(big.Int).Sub(s.U2, doubt.Own(t.U, []doubt.On{t.On}))
	s.On = doubt.Less(s.On, []doubt.On{t.On})
}

// Delivery is what went in by this step.
func (s Step) Delivery() Delivery {
	return Delivery{As: s.As, Delivered: s.Delivered, U: s.DeliveredU(), On: s.On, Skipped: s.Skipped, NotKnown: s.NotKnown > 0}
}

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

// Solution reports whether its carrier is water. That goes into the cup first.
func (m Mix) Solution() bool {
	return m.From == "" && len(m.Parts) == 2 && m.Parts[1].Material == sheet.WaterName
}

// whole reports whether part k of a mixture goes into the batch by it alone. The
// carrier of an aliquot is weighed by itself as well.
func (m Mix) whole(k int) bool { return k == 0 || m.From != "" }

// InCup reports whether the step goes into a mixing cup.
func (s *Step) InCup() bool { return s.Part == WeighPart || s.Part == DilutePart }

// Into names where the step goes, for the record; empty: the batch.
func (s Step) Into() string {
	if s.InCup() {
		return MixingCup
	}
	return ""
}

// seen is what the marks of a weighing were made from, and what they are.
type seen struct {
	target, in, low, high protocol.Mass
	scale                 string
}
