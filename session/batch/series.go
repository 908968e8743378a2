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
	"tared/session/text"
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
	Tub  *Batch
	Next int           // index of the next cup
	Left protocol.Mass // in the tub, by what was weighed in and out: nothing may be in it any more when it is below zero
}

// Work is what is in work: a batch, and the series that it belongs to. Treat it as a
// value: Apply never changes the one it is given.
type Work struct {
	Batch  *Batch  // the last that was planned; nil: none yet
	Series *Series // nil: it belongs to none
	Containers
}

// Apply takes the next fact. One of another batch than the last, or its tub, changes
// nothing.
func (w Work) Apply(f fact.Fact) Work {
	p, opens := f.Body.(fact.Planned)
	switch {
	case opens:
		w.Batch = New(f, p)
		w.Series, w.Containers = w.Series.begin(w.Batch), Containers{}
	case w.Batch == nil:
	case f.Batch == w.Batch.Mark:
		w.Batch = w.Batch.Clone()
		w.Batch.Apply(f)
		w.Series, w.Containers = w.Series.follow(w.Batch, f), w.Containers.Apply(f)
	case w.Series != nil && f.Batch == w.Series.Tub.Mark:
		tub := w.Series.Tub.Clone()
		tub.Apply(f)
		w.Series = &Series{Tub: tub, Next: w.Series.Next, Left: w.Series.Left + tub.putIn() - w.Series.Tub.putIn()}
		w.Batch = w.Batch.Clone()
		w.Batch.Fill(tub)
	}
	return w
}

// begin gives the series after a batch was planned.
func (r *Series) begin(b *Batch) *Series {
	switch s := b.Plan.Series; {
	case s.Of == "" && len(s.Plans) > 0:
		return &Series{Tub: b}
	case r != nil && s.Of == r.Tub.Mark:
		n := *r
		n.Next = int(s.Cup)
		for _, m := range b.Plan.Mixes {
			switch {
			case m.From == "":
			case m.Left != 0:
				n.Left = m.Left
			default: // a record from before that was counted
				n.Left = n.Tub.putIn() - m.Take.Target*protocol.Mass(s.Cup-1)
			}
		}
		return &n
	}
	return nil
}

// follow gives the series after a fact of the batch in work.
func (r *Series) follow(b *Batch, f fact.Fact) *Series {
	_, closes := f.Body.(fact.Finished)
	switch {
	case r == nil:
		return nil
	case b.Mark == r.Tub.Mark:
		return &Series{Tub: b, Next: r.Next, Left: b.putIn()}
	case closes:
		return &Series{Tub: r.Tub, Next: r.Next, Left: r.Left - b.TakenFromTub()}
	}
	return r
}

func (b *Batch) putIn() (sum protocol.Mass) {
	for _, d := range b.Deliveries() {
		sum += d.Delivered
	}
	return sum
}

// More reports whether there is a cup to fill, and something to fill it with.
func (r *Series) More() bool {
	return r != nil && r.Next < len(r.Tub.Plan.Series.Plans) && r.Tub.Finished && !r.Tub.Early && r.Tub.putIn() > 0
}

// Cup plans the next cup from the tub as it was made.
func (r *Series) Cup(reminded bool) (fact.Planned, error) {
	tub, c, in := r.Tub.Plan, r.Tub.Plan.Series.Plans[r.Next], r.Tub.Deliveries()
	sum := sha256.Sum256([]byte(c.Recipe))
	n := uint64(r.Next + 1)
	p := fact.Planned{Title: text.New("plan.cup-title", text.Name("title", tub.Title), text.Count("cup", r.Next+1), text.Count("cups", len(tub.Series.Plans)), text.Name("label", c.Label)).String(),
		Recipe: c.Recipe, RecipeHash: hex.EncodeToString(sum[:]), Scales: tub.Scales, Allowed: tub.Allowed, Simulated: tub.Simulated, Rule: tub.Rule, Although: tub.Although, Lots: tub.Lots,
		Series: fact.Series{Of: r.Tub.Mark, Cup: n, Cups: uint64(len(tub.Series.Plans)), Label: c.Label, Reminded: reminded}}
	allow, names, err := sheet.ReadAllow(tub.Allowed)
	if err != nil {
		return p, err
	}
	m := fact.Mix{From: r.Tub.Mark, Take: c.Take, Left: r.Left, Mixing: sheet.Mixing.RatString()}
	if m.Left == 0 {
		m.Left = protocol.Picogram // zero would say that nobody counted
	}
	m.Take.Material = text.New("plan.common-mix", text.Name("batch", r.Tub.Mark)).String()
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
		m.Parts = append(m.Parts, fact.MixPart{Material: l.Material, As: in[i].As, Mass: in[i].Delivered, U: in[i].U, On: in[i].On})
		l.Scale, l.Weighable, l.U = c.Take.Scale, c.Take.Weighable, 0
		l.Share = swap.OfWhole(l.Share)
		l = tubLine(l, protocol.Mass(targets[i]), AllowedFor(l, allow, names))
		p.Lines = append(p.Lines, l)
	}
	mixed := make([]sheet.Weighed, len(m.Parts))
	for i, q := range m.Parts {
		mixed[i] = sheet.Weighed{Mass: q.Mass, U: q.U, On: q.On}
	}
	held, err := sheet.Part(mixed, sheet.Weighed{Mass: c.Take.Target, U: c.Take.U}, sheet.Mixing)
	if err != nil {
		return p, err
	}
	for i := range p.Lines {
		p.Lines[i].U = held[i].U
	}
	for _, l := range c.Lines {
		p.Lines, onBase = append(p.Lines, l), append(onBase, swap.Is(l.Material) && !swap.Addition)
	}
	for i, l := range p.Lines {
		dry := Dry(tub.Lots, l.Material, l.Target)
		p.Dry += dry
		if onBase[i] {
			p.Base += dry
		}
	}
	p.Mixes = []fact.Mix{m}
	for _, m := range c.Mixes {
		for _, before := range tub.Series.Plans[:r.Next] {
			for _, b := range before.Mixes {
				if b.Lot == m.Lot {
					m.Left = max(m.Left-b.Take.Target, protocol.Picogram)
				}
			}
		}
		p.Mixes = append(p.Mixes, m)
	}
	p.Water, p.Confirm = c.Water, tub.Confirm
	return p, nil
}

// tubLine gives a material of the common mix its target in a cup. It is not
// weighed by itself there, so no step bounds its band.
func tubLine(l fact.Line, target protocol.Mass, a sheet.Allow) fact.Line {
	band := max(a.Of(target), protocol.Picogram)
	l.Target, l.Low, l.High = target, max(target-band, protocol.Picogram), target+band
	return l
}
