package batch

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/recipe"
	"tared/session/sheet"
)

// cupSign stands between the mark of a tub and the number of a cup.
const cupSign = "-"

// CupMark is the mark of a cup of a series, from 1.
func CupMark(tub string, cup uint64) string { return fmt.Sprintf("%s%s%d", tub, cupSign, cup) }

// TubMark gives the mark of the tub to a mark that may be that of a cup.
func TubMark(mark string) (tub string, cup bool) {
	tub, _, cup = strings.Cut(mark, cupSign)
	return tub, cup
}

// Series is a series of cups in work: its tub, and which cup is next. Treat it as a
// value; nil is none.
type Series struct {
	Mark string
	Plan fact.Planned  // of the tub
	Tub  fact.Finished // as made; its lines are empty until then
	Next int           // index of the next cup
	Left protocol.Mass // in the tub, by what was weighed in and out: nothing may be in it any more when it is below zero
}

// Planned gives the series after a batch was planned.
func (r *Series) Planned(f fact.Fact, p fact.Planned) *Series {
	switch s := p.Series; {
	case s.Of == "" && len(s.Plans) > 0:
		return &Series{Mark: f.Batch, Plan: p}
	case r != nil && s.Of == r.Mark:
		n := *r
		n.Next = int(s.Cup)
		for _, m := range p.Mixes {
			switch {
			case m.From == "":
			case m.Left != 0:
				n.Left = m.Left
			default: // a record from before that was counted
				n.Left = n.put() - m.Take.Target*protocol.Mass(s.Cup-1)
			}
		}
		return &n
	}
	return nil
}

// put gives what went into the tub.
func (r *Series) put() (sum protocol.Mass) {
	for _, l := range r.Tub.Lines {
		sum += l.Delivered
	}
	return sum
}

// Finished gives the series after a batch was closed.
func (r *Series) Finished(b *Batch, v fact.Finished) *Series {
	if r == nil || b.Mark != r.Mark && b.Plan.Series.Of != r.Mark {
		return r
	}
	n := *r
	if b.Mark == r.Mark {
		n.Tub = v
		n.Left = n.put()
	} else {
		n.Left -= b.TakenFromTub()
	}
	return &n
}

// Cup plans the next cup from the tub as it was made.
func (r *Series) Cup(reminded bool) (fact.Planned, error) {
	tub, c := r.Plan, r.Plan.Series.Plans[r.Next]
	sum := sha256.Sum256([]byte(c.Recipe))
	n := uint64(r.Next + 1)
	p := fact.Planned{Title: fmt.Sprintf("%s, cup %d of %d: %s", tub.Title, n, len(tub.Series.Plans), c.Label),
		Recipe: c.Recipe, RecipeHash: hex.EncodeToString(sum[:]), Scales: tub.Scales, Allowed: tub.Allowed, Simulated: tub.Simulated, Lots: tub.Lots,
		Series: fact.Series{Of: r.Mark, Cup: n, Cups: uint64(len(tub.Series.Plans)), Label: c.Label, Reminded: reminded}}
	allow, names, err := Allowed(tub.Allowed)
	if err != nil {
		return p, err
	}
	m := fact.Mix{From: r.Mark, Take: c.Take, Left: r.Left}
	if m.Left == 0 {
		m.Left = protocol.Nanogram // zero would say that nobody counted
	}
	m.Take.Material = "common mix of " + r.Mark
	shares := make([]*big.Rat, len(tub.Lines))
	for i, l := range tub.Lines {
		shares[i] = l.Target.Rat()
	}
	targets, err := recipe.Apportion(int64(c.Take.Target), shares)
	if err != nil {
		return p, err
	}
	onBase := Bases(tub.Lines)
	swap := tub.Series.Swap
	for i, l := range tub.Lines {
		made := r.Tub.Lines[i]
		m.Parts = append(m.Parts, fact.MixPart{Material: l.Material, As: made.As, Mass: made.Delivered, U: made.U})
		l.Scale, l.Weighable, l.U = c.Take.Scale, c.Take.Weighable, 0
		l.Share = swap.OfWhole(l.Share)
		l = tubLine(l, protocol.Mass(targets[i]), AllowedFor(l, allow, names))
		p.Lines = append(p.Lines, l)
		dry := Dry(tub.Lots, l.Material, l.Target)
		p.Dry += dry
		if onBase[i] {
			p.Base += dry
		}
	}
	in := make([]sheet.Weighed, len(m.Parts))
	for i, q := range m.Parts {
		in[i] = sheet.Weighed{Mass: q.Mass, U: q.U}
	}
	held, err := sheet.Part(in, sheet.Weighed{Mass: c.Take.Target, U: c.Take.U})
	if err != nil {
		return p, err
	}
	for i := range p.Lines {
		p.Lines[i].U = held[i].U
	}
	for _, l := range c.Lines {
		p.Lines = append(p.Lines, l)
		dry := Dry(tub.Lots, l.Material, l.Target)
		p.Dry += dry
		if swap.Is(l.Material) && !swap.Addition {
			p.Base += dry
		}
	}
	p.Mixes = []fact.Mix{m}
	p.Water, p.Confirm = c.Water, tub.Confirm
	return p, nil
}

// tubLine gives a material of the common mix its target in a cup. It is not
// weighed by itself there, so no step bounds its band.
func tubLine(l fact.Line, target protocol.Mass, a sheet.Allow) fact.Line {
	band := max(a.Of(target), protocol.Nanogram)
	l.Target, l.Low, l.High = target, max(target-band, protocol.Nanogram), target+band
	return l
}
