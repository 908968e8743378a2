package book

import (
	"math/big"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
)

// waterLine is the first water while facts are added up; nil: it is no step.
func waterLine(p fact.Planned, places int) *line {
	if p.Water.Target <= 0 {
		return nil
	}
	return &line{Line: p.Water, squares: new(big.Int), places: places}
}

// firstWater gives the first water as planned and as it went in, beside so much
// dry; nil: it was no step.
func (n *Batch) firstWater(dry protocol.Mass) *Line {
	l := n.water
	if l == nil {
		return nil
	}
	at := batch.FirstWater(l.Line, n.Plan.Dry, n.dry)
	if l.portions > 0 || n.State != Open {
		at = batch.FirstWater(l.Line, n.Plan.Dry, dry)
	}
	a := func(m protocol.Mass) Amount { return Amount{m, l.places} }
	u := mass(rootUp(l.squares))
	d := l.delivered - at.Target
	o := &Line{Material: l.Material, As: l.as, Role: l.Role, Scale: l.Scale, Weighable: l.Weighable, Target: a(at.Target), Low: a(at.Low), High: a(at.High),
		Delivered: a(l.delivered), Portions: l.portions, U: a(u), Deviation: a(d), Bands: bands(d, at.High-at.Low), Beyond: l.portions > 0 && d.Abs() > u,
		Planned: percentText(l.Share), Kept: l.kept && l.delivered > at.High}
	if at.Target > 0 {
		r := big.NewRat(int64(d), int64(at.Target))
		o.Percent = signed(r.Mul(r, big.NewRat(100, 1)).FloatString(2))
	}
	if n.State != Open {
		o.Share = batch.OfDry(l.delivered, dry)
	}
	if n.State != Open || l.skipped || l.portions > 0 {
		o.Verdict = batch.Verdict(at, batch.Delivery{Delivered: l.delivered, Skipped: l.skipped})
	}
	if c := n.shut; c != nil && c.water.delivered != l.delivered {
		o.Was, o.WasShare = &Amount{c.water.delivered, l.places}, batch.OfDry(c.water.delivered, c.dried())
		o.Corrected = n.corrections(l.Material)
	}
	o.Words = lineWords(*o)
	return o
}

// watered tells when the last of the first water went in; zero: none did.
func (n *Batch) watered() (at time.Time) {
	if n.water == nil || n.water.delivered <= 0 {
		return at
	}
	for _, t := range n.facts {
		if p, ok := t.Body.(fact.Portion); ok && !t.void && p.Material == n.water.Material {
			at = t.At
		}
	}
	return at
}

// dried is all that is dry in the batch.
func (n *Batch) dried() protocol.Mass {
	plan, went := n.went()
	_, _, dry := batch.AsMade(plan, went)
	return dry
}
