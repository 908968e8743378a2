package book

import (
	"math/big"
	"time"

	"tared/protocol"
	"tared/session/fact"
)

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
	l.Low, l.High = max(to-(plan.Target-plan.Low), protocol.Nanogram), to+(plan.High-plan.Target)
	return l
}

// WaterMade gives the first water as it went in, for the fact that closes a
// batch. Its share is percent of everything dry that went in.
func WaterMade(l fact.Line, w Went, dry protocol.Mass) fact.Made {
	return fact.Made{Material: l.Material, As: w.As, Role: l.Role, Target: l.Target, Delivered: w.Delivered, U: w.U,
		Share: ofDry(w.Delivered, dry), Verdict: verdict(l, w)}
}

// ofDry writes an amount in percent of everything dry.
func ofDry(m, dry protocol.Mass) string {
	if dry <= 0 {
		return new(big.Rat).FloatString(sharePlaces)
	}
	return big.NewRat(0, 1).Mul(big.NewRat(int64(m), int64(dry)), big.NewRat(100, 1)).FloatString(sharePlaces)
}

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
	at := FirstWater(l.Line, n.Plan.Dry, n.dry)
	if l.portions > 0 || n.State != Open {
		at = FirstWater(l.Line, n.Plan.Dry, dry)
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
		o.Share = ofDry(l.delivered, dry)
	}
	if n.State != Open || l.skipped || l.portions > 0 {
		o.Verdict = verdict(at, Went{Delivered: l.delivered, Skipped: l.skipped})
	}
	if c := n.shut; c != nil && c.water.delivered != l.delivered {
		o.Was, o.WasShare = &Amount{c.water.delivered, l.places}, ofDry(c.water.delivered, c.dried())
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
	_, _, dry := AsMade(plan, went)
	return dry
}
