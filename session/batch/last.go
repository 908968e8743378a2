package batch

import (
	"slices"

	"tared/protocol"
	"tared/session/fact"
)

// choose keeps how the batch stood before a decision.
func (b *Batch) choose(seq uint64, material, answer string) {
	if i := b.StepOf(material); i >= 0 {
		b.Choices = append(b.Choices, Choice{seq, i, answer, b.Clone()})
	}
}

// retract takes a decision back, and those after it.
func (b *Batch) retract(seq uint64) {
	k := slices.IndexFunc(b.Choices, func(c Choice) bool { return c.Seq == seq })
	if k < 0 {
		return
	}
	was := b.Choices[k].was
	b.Choices = b.Choices[:k]
	b.Base, b.Dry, b.water = was.Base, was.Dry, onScale(was.water, b.water)
	for i, l := range was.Lines {
		b.Lines[i] = onScale(l, b.Lines[i])
	}
	for i, st := range was.Steps {
		is := &b.Steps[i]
		is.Line, is.Skipped, is.Kept, is.As = onScale(st.Line, is.Line), st.Skipped, st.Kept, st.As
	}
}

// onScale gives a line as it was, on the scale that it was moved to since.
func onScale(was, is fact.Line) fact.Line {
	if was.Scale == is.Scale {
		return was
	}
	return moved(was, is)
}

// Latest is what can be taken back next: a portion, or a decision with the portion that
// it is about. Zero: nothing.
type Latest struct {
	Seq       uint64        // of the decision, or of the portion
	Answer    string        // of the decision; empty: it is a portion
	Portion   uint64        // goes with it; 0: none
	Delivered protocol.Mass // by that portion
}

// Last finds it, and the step that it is of.
func (b *Batch) Last() (l Latest, st Step) {
	if n := len(b.Takes); n > 0 {
		k := b.Takes[n-1]
		l, st = Latest{Seq: k.Seq, Portion: k.Seq, Delivered: k.Delivered}, b.Steps[k.Step]
	}
	n := len(b.Choices)
	if n == 0 || b.Choices[n-1].Seq < l.Seq {
		return l, st
	}
	c := b.Choices[n-1]
	st = b.Steps[c.Step]
	over := c.Answer == "keep" || c.Answer == "enlarge"
	if k := len(b.Takes) - 1; over && k >= 0 && b.Takes[k].Step == c.Step {
		return Latest{c.Seq, c.Answer, l.Portion, l.Delivered}, st
	}
	return Latest{Seq: c.Seq, Answer: c.Answer}, st
}
