package book

import "tared/protocol"

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

// diluted gives the mixture by which a line went in, where it did.
func (n *Batch) diluted(material string) *Diluted {
	for k, m := range n.Mixes {
		if m.From != "" || m.Parts[0].Material != material {
			continue
		}
		w, d, t := n.CupSteps(k)
		if w.Portions == 0 {
			return nil
		}
		places := max(w.Places, d.Places, t.Places)
		a := func(m protocol.Mass) Amount { return Amount{m, places} }
		return &Diluted{a(w.Delivered), cmpOr(d.As, m.Parts[1].Material), a(d.Delivered), a(t.Delivered), a(w.Delivered + d.Delivered - t.Delivered)}
	}
	return nil
}

// drawn gives the tubs that parts of came into this batch.
func (n *Batch) drawn() []Drawn {
	var out []Drawn
	for k, m := range n.Mixes {
		if m.From != "" {
			_, _, t := n.CupSteps(k)
			out = append(out, Drawn{m.From, Amount{t.Delivered, t.Places}})
		}
	}
	return out
}
