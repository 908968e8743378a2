package book

import (
	"cmp"
	"slices"
	"strconv"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/text"
)

// A portion of a batch that is closed can be given another weight, or none, by a
// person who says why. The line that closed the batch stays, and with it the hash on
// the label; what it said is shown beside what counts now.

// Amendable is an entry of a batch as an amendment of it needs it. The zero value is that of
// an entry which is not there.
type Amendable struct {
	Seq  uint64
	Kind string // as in the journal
	Void bool   // it no longer counts

	// The rest is there for portions only.
	Material string
	Scale    string
	Counts   protocol.Mass // with all amendments so far
	Weighs   doubt.Scale   // the scale
	Most     protocol.Mass // more than this it cannot be
	Dry      protocol.Mass // of the batch, as planned or as it went in
}

// Amendable gives an entry of the batch.
func (n *Batch) Amendable(seq uint64) Amendable {
	i := slices.IndexFunc(n.facts, func(t entry) bool { return t.Seq == seq })
	if i < 0 {
		return Amendable{Dry: n.dry()}
	}
	w := Amendable{Dry: n.dry(), Seq: seq, Kind: n.facts[i].Body.Kind(), Void: n.facts[i].void}
	if v, ok := n.facts[i].Body.(fact.Portion); ok {
		w.Material, w.Scale, w.Counts, w.Weighs = v.Material, v.Scale, n.counts(seq, v), n.Scale(v.Scale).Weighs()
		// Where nobody said what the scale holds, ten batches are no portion of one.
		w.Most = max(n.Dry, n.Plan.Dry).Times(10, 1)
		for _, s := range n.Plan.Scales {
			if s.Name == v.Scale && s.Max > 0 {
				w.Most = s.Max
			}
		}
	}
	return w
}

// dry is all that was planned or went in, whichever is more.
func (n *Batch) dry() (dry protocol.Mass) {
	for i, d := range n.Deliveries() {
		dry += max(n.Lines[i].Target, d.Delivered)
	}
	return max(dry, n.Dry, n.Plan.Dry)
}

// Correct gives the amendment by which a person's word takes the place of a portion.
// Its U is that of what was typed: of this weight on this scale, read to the last digit typed.
func (w Amendable) Correct(to fact.Typed, reason string) fact.Amended {
	d := w.Weighs
	d.Step = max(d.Step, to.Step)
	return fact.Amended{Of: w.Seq, Reason: reason, Material: w.Material, Was: w.Counts, Is: to.Mass, How: "typed", U: d.U(to.Mass), Span: d.Span(to.Mass), Step: to.Step}
}

// Strike gives the amendment by which a portion no longer counts.
func (w Amendable) Strike(reason string) fact.Amended {
	return fact.Amended{Of: w.Seq, Reason: reason, Material: w.Material, Was: w.Counts, Void: true}
}

// correction gives the last amendment of a portion, with the U of what counts now;
// nil: there is none.
func (n *Batch) correction(seq uint64, v fact.Portion, places int) *Correction {
	var last *Correction
	u := v.U
	for _, c := range n.changes {
		if c.Of != seq || !c.portion {
			continue
		}
		if c.U > 0 && !c.Void {
			u = c.U
		}
		last = &Correction{Seq: c.seq, At: c.at, By: n.person(c.by), Reason: c.Reason, Typed: c.How == "typed", Late: c.late, U: Amount{u, max(places, c.Step.StepPlaces())}}
	}
	return last
}

// counts is what a portion counts with all amendments so far, be it struck out or not.
func (n *Batch) counts(seq uint64, v fact.Portion) protocol.Mass {
	m := v.Delivered
	for _, c := range n.changes {
		if c.Of == seq && c.portion && !c.Void {
			m = c.Is
		}
	}
	return m
}

// asClosed is the batch as its closing line has it: with what was weighed then, and
// with the tub of its series as that was known then; nil where nothing was corrected.
func (n *Batch) asClosed() *batch.Batch {
	if !n.Finished || n.AtClosing == nil && !n.TubCorrected() {
		return nil
	}
	c := n.AtClosing
	if c == nil {
		c = n.Batch
	}
	c = c.Clone()
	c.Fill(nil)
	return c
}

// atClosing sets beside each line what the closing line has, where that is another
// amount.
func (n *Batch) atClosing(lines []Line) {
	for i, l := range n.whenClosed() {
		if l.other {
			lines[i].AtClosing, lines[i].ShareAtClosing = &Amount{l.delivered, lines[i].Delivered.Places}, l.share
			lines[i].Corrected = n.corrections(lines[i].Material)
			if len(lines[i].Corrected) == 0 && n.tub != nil {
				// One material of the tub changes the share of all others in the cup.
				for _, w := range n.tub.correctionsOf(func(string) bool { return true }) {
					lines[i].Corrected = append(lines[i].Corrected, n.reader.Say(text.New("record.in-tub", text.Name("tub", n.tub.Mark), text.Name("what", w))))
				}
			}
		}
	}
}

// corrections tells the late amendments of what counts to a line.
func (n *Batch) corrections(material string) (words []string) {
	names := []string{material}
	for _, m := range n.Plan.Mixes {
		for _, p := range m.Parts {
			if p.Material != material {
				continue
			}
			names = append(names, m.Take.Material)
			for _, q := range m.Parts {
				if q.Step.Material != "" {
					names = append(names, q.Step.Material) // what else is in the cup moves its share
				}
			}
		}
	}
	return n.correctionsOf(func(m string) bool { return slices.Contains(names, m) })
}

func (n *Batch) correctionsOf(want func(material string) bool) (words []string) {
	for _, c := range n.changes {
		if c.late && c.portion && want(c.Material) {
			o := n.changed(c)
			m := text.New("record.correction", text.Number("entry", strconv.FormatUint(c.Of, 10)), text.Name("was", o.Old), text.Name("is", o.New), text.Name("by", cmp.Or(c.by, "?")), text.Name("when", when(c.at)), text.Name("reason", c.Reason))
			if c.Void {
				m = text.New("record.correction-struck", text.Number("entry", strconv.FormatUint(c.Of, 10)), text.Name("was", o.Old), text.Name("by", cmp.Or(c.by, "?")), text.Name("when", when(c.at)), text.Name("reason", c.Reason))
			}
			words = append(words, n.reader.Say(m))
		}
	}
	return words
}

// hasTypedCorrection reports whether a person's word stands in for a weighing of this batch, or of the
// tub that it was filled from.
func (n *Batch) hasTypedCorrection() bool {
	return slices.ContainsFunc(n.changes, func(c change) bool { return c.late && c.portion && c.How == "typed" }) || n.tub != nil && n.tub.hasTypedCorrection()
}

// closedLine is a line as it was when its batch was closed.
type closedLine struct {
	other     bool // its amount was corrected since; the rest is empty without that
	delivered protocol.Mass
	share     string
}

// whenClosed gives each line as it was when the batch was closed; nil where nothing was
// corrected.
func (n *Batch) whenClosed() []closedLine {
	c := n.asClosed()
	if c == nil {
		return nil
	}
	in, now := c.Deliveries(), n.Deliveries()
	made, _, _ := batch.AsMade(c.Lines, in)
	out := make([]closedLine, len(made))
	for i := range made {
		if in[i].Delivered != now[i].Delivered {
			out[i] = closedLine{true, in[i].Delivered, made[i].Share}
		}
	}
	return out
}

// changed tells an amendment with both values.
func (n *Batch) changed(c change) Change {
	o := Change{Seq: c.seq, At: c.at, By: n.person(c.by), Of: c.Of, Material: c.Material, Field: c.Field, Void: c.Void, Reason: c.Reason, Late: c.late}
	if c.Field != "" {
		o.Old, o.New = c.Old, c.New
		return o
	}
	p := 0
	if k := n.StepOf(c.Material); k >= 0 {
		p = n.Steps[k].Places
	}
	o.Old = c.Was.Grams(p) + " g"
	o.New = c.Is.Grams(p) + " g"
	if c.Void {
		o.New = n.reader.Say(text.New("record.struck"))
	}
	return o
}
