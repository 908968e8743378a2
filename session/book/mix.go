package book

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
)

// Diluted is how a material went in that was too little to be weighed by itself.
type Diluted struct {
	Weighed Amount `json:"weighed"` // of the material, into the mixing cup
	Carrier string `json:"carrier"`
	Dilute  Amount `json:"dilute"` // of the carrier, into the same cup
	Take    Amount `json:"take"`   // of the mixture, into the batch
	Rest    Amount `json:"rest"`   // of the mixture, which is waste
}

// Drawn is a mixture that was made as a batch of its own, and what of it is in
// this one.
type Drawn struct {
	From string `json:"from"` // the mark of that batch
	Take Amount `json:"take"`
}

// step tells what a step of a mixture came to; nil when nothing was weighed.
func (n *Batch) step(material string) *line {
	if i := slices.IndexFunc(n.cups, func(l line) bool { return l.Material == material }); i >= 0 {
		return &n.cups[i]
	}
	return nil
}

// diluted gives the mixture by which a line went in, where it did.
func (n *Batch) diluted(material string) *Diluted {
	for _, m := range n.Plan.Mixes {
		if m.From != "" || len(m.Parts) != 2 || m.Parts[0].Material != material {
			continue
		}
		w, d, t := n.step(m.Parts[0].Step.Material), n.step(m.Parts[1].Step.Material), n.step(m.Take.Material)
		if w.portions == 0 {
			return nil
		}
		places := max(w.places, d.places, t.places)
		a := func(m protocol.Mass) Amount { return Amount{m, places} }
		return &Diluted{a(w.delivered), cmpOr(d.as, m.Parts[1].Material), a(d.delivered), a(t.delivered), a(w.delivered + d.delivered - t.delivered)}
	}
	return nil
}

// drawn gives the tubs that parts of came into this batch.
func (n *Batch) drawn() []Drawn {
	var out []Drawn
	for _, m := range n.Plan.Mixes {
		if m.From != "" {
			t := n.step(m.Take.Material)
			out = append(out, Drawn{m.From, Amount{t.delivered, t.places}})
		}
	}
	return out
}

// folded gives the lines with all that reached the batch of them, by their own
// weighings and in parts of mixtures.
func (n *Batch) folded() []line {
	if len(n.Plan.Mixes) == 0 {
		return n.lines
	}
	had := map[string]batch.Delivery{}
	for _, all := range [][]line{n.lines, n.cups} {
		for _, l := range all {
			had[l.Material] = batch.Delivery{As: l.as, Delivered: l.delivered, U: mass(rootUp(l.squares)), Skipped: l.skipped}
		}
	}
	lines := make([]fact.Line, len(n.lines))
	for i, l := range n.lines {
		lines[i] = l.Line
	}
	out := slices.Clone(n.lines)
	for i, w := range batch.Unmix(lines, n.mixes(), had) {
		o := &out[i]
		o.as, o.delivered, o.skipped, o.squares = w.As, w.Delivered, w.Skipped, new(big.Int).Set(square(w.U))
	}
	for _, m := range n.Plan.Mixes {
		t := n.step(m.Take.Material)
		for k, p := range m.Parts {
			i := n.index(p.Material)
			if i < 0 {
				continue
			}
			out[i].portions += t.portions
			if k == 0 || m.From != "" {
				// A part in so many can be known finer than a step of the scale.
				out[i].places = max(out[i].places, fine(mass(rootUp(out[i].squares))))
				out[i].kept = out[i].kept || t.kept
			}
		}
	}
	return out
}

// fine gives the decimals that show two figures of an uncertainty.
func fine(u protocol.Mass) int {
	places := 0
	for unit := protocol.Gram; u > 0 && u < 10*unit && places < 6; unit /= 10 {
		places++
	}
	return places
}

// leaveOut skips all steps of the mixing cup that the named step belongs to.
func (n *Batch) leaveOut(material string) {
	for _, m := range n.Plan.Mixes {
		names := []string{m.Take.Material}
		for _, p := range m.Parts {
			if p.Step != (fact.Line{}) {
				names = append(names, p.Step.Material)
			}
		}
		if m.From == "" && slices.Contains(names, material) {
			for _, name := range names {
				n.step(name).skipped = true
			}
		}
	}
}

// takeOf names the step by which the mixture of a diluted material goes in.
func (n *Batch) takeOf(material string) string {
	for _, m := range n.Plan.Mixes {
		if m.From == "" && m.Parts[0].Material == material {
			return m.Take.Material
		}
	}
	return ""
}
