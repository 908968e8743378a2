package batch

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/sheet"
	"tared/session/text"
)

// Enlarge computes what the batch becomes when it grows by the smallest
// factor that puts every material inside its band again.
func (b *Batch) Enlarge() (fact.Enlarged, error) { return b.grown(false) }

// Exactly computes what it becomes when it grows until nothing is over its target.
func (b *Batch) Exactly() (fact.Enlarged, error) { return b.grown(true) }

// Excess gives by how much a material is over its target where the batch is that large.
func (b *Batch) Excess(e fact.Enlarged) (over []Over) {
	went := b.Deliveries()
	for i, l := range b.Lines {
		for _, n := range e.Lines {
			if n.Material == l.Material && !went[i].Skipped && went[i].Delivered > n.Target {
				over = append(over, Over{n, went[i].Delivered - n.Target, b.Allowed(n)})
			}
		}
	}
	return over
}

// Over is a material that is over its target by so much, and how far it may be off.
type Over struct {
	Line        fact.Line
	By, Allowed protocol.Mass
}

func (b *Batch) grown(exact bool) (fact.Enlarged, error) {
	allow, names, err := sheet.ReadAllow(b.Plan.Allowed)
	if err != nil {
		return fact.Enlarged{}, err
	}
	in := b.poured()
	limits := b.limits(names)
	limits.Exact = exact
	f, lines, err := sheet.Enlarge(in, allow, limits)
	if err != nil {
		return fact.Enlarged{}, err
	}
	larger := func(m protocol.Mass) (protocol.Mass, error) { return protocol.RoundRat(new(big.Rat).Mul(m.Rat(), f)) }
	e := fact.Enlarged{Factor: f.RatString()}
	for i, l := range lines {
		if b.Diluted(l.Material) {
			// Its U is that of the mixture, and grows with the part.
			if l.U, err = larger(in[i].U); err != nil {
				return fact.Enlarged{}, err
			}
			l.Verdict = sheet.Judge(l.Allowed, b.Scale(l.Scale).Step, l.U)
		}
		e.Lines = append(e.Lines, LineFrom(l))
	}
	if err := b.cupsHold(e.Lines); err != nil {
		return fact.Enlarged{}, err
	}
	for _, l := range b.Lines {
		if b.InTub(l.Material) {
			t, err := larger(l.Target)
			if err != nil {
				return fact.Enlarged{}, err
			}
			e.Lines = append(e.Lines, tubLine(l, t, AllowedFor(l, allow, names)))
		}
	}
	// Base and dry total are the sums of the targets, each of which was rounded for
	// itself: the old base times the factor could differ from them by a picogram.
	onBase := Bases(b.Lines)
	for i, l := range b.Lines {
		t := l.Target // skipped: as planned, as a part of the size
		if k := slices.IndexFunc(e.Lines, func(o fact.Line) bool { return o.Material == l.Material }); k >= 0 {
			t = e.Lines[k].Target
		} else if t, err = larger(t); err != nil {
			return fact.Enlarged{}, err
		}
		t = Dry(b.Plan.Lots, l.Material, t)
		e.Dry += t
		if onBase[i] {
			e.Base += t
		}
	}
	return e, nil
}

// poured gives what is in of everything that is to grow.
func (b *Batch) poured() (in []sheet.Poured) {
	for _, st := range b.Steps {
		if st.Part == TakePart && b.Mixes[st.Mix].From != "" && !st.Skipped {
			// What comes out of a tub grows as one.
			in = append(in, sheet.Poured{Line: sheetLine(st.Line, b.Scale(st.Scale).Step), Delivered: st.Delivered})
		}
	}
	went := b.Deliveries()
	for i, l := range b.Lines {
		if went[i].Skipped || b.InTub(l.Material) {
			continue
		}
		p := sheet.Poured{Line: sheetLine(l, b.Scale(l.Scale).Step), Delivered: went[i].Delivered}
		if b.Diluted(l.Material) {
			// It is known finer than a step; rounding, to the nanogram in old journals, must not make it look less.
			p.Step, p.Delivered = protocol.Nanogram, p.Delivered+2*protocol.Nanogram
		}
		if b.Plan.Rule == doubt.Guarded {
			p.Guard = went[i].U
		}
		in = append(in, p)
	}
	return in
}

func (b *Batch) limits(names map[string]sheet.Allow) sheet.Limits {
	l := sheet.Limits{AllowFor: names, Stock: b.leftInBags(), Container: b.Plan.Container, Most: b.Plan.Most}
	for _, s := range b.Plan.Scales {
		l.Scales = append(l.Scales, OnSheet(s))
	}
	return l
}

// cupsHold says which mixing cup holds too little for the larger batch.
func (b *Batch) cupsHold(larger []fact.Line) error {
	for i, m := range b.Mixes {
		if m.From != "" {
			continue
		}
		weigh, dilute, take := b.CupSteps(i)
		k := slices.IndexFunc(larger, func(l fact.Line) bool { return l.Material == m.Parts[0].Material })
		if k < 0 || m.Lot == "" && !(weigh.Done() && dilute.Done()) {
			continue
		}
		w, d := b.inCup(i)
		all := w + d
		if m.Lot != "" {
			all = m.Left
		}
		if sheet.Need(larger[k].Low, w, w+d) > all {
			return text.Refuse("sheet.enlarge-mix", text.Name("mix", take.Material), text.Name("material", m.Parts[0].Material))
		}
	}
	return nil
}

// leftInBags gives what there still is of each material beside what is in, as far
// as a stock is kept of it, and of the tub that a cup comes out of. A bag that was
// too small from the start sets no bound: the potter knows better than the record
// there.
func (b *Batch) leftInBags() map[string]protocol.Mass {
	taken, need := map[string]protocol.Mass{}, map[string]protocol.Mass{}
	for _, st := range b.Steps {
		name := st.Material
		if st.InCup() {
			name = b.MaterialOf(Step{Line: st.Line, Part: st.Part, Mix: st.Mix})
		}
		if st.As == "" {
			taken[name] += st.Delivered
		}
	}
	for _, l := range b.Plan.Lines {
		need[l.Material] += l.Target
	}
	left := map[string]protocol.Mass{}
	for _, u := range b.Plan.Lots {
		if u.Lot != "" && u.Has >= need[u.Material] && !b.InTub(u.Material) {
			left[u.Material] = u.Has - taken[u.Material]
		}
	}
	for _, m := range b.Plan.Mixes {
		if m.From != "" && m.Left >= m.Take.Target {
			left[m.Take.Material] = max(m.Left-taken[m.Take.Material], 0)
		}
	}
	return left
}

// OnSheet is a scale of a plan as a sheet sees it.
func OnSheet(s fact.Scale) sheet.Scale {
	return sheet.Scale{Name: s.Name, Step: s.Step, Unit: s.Unit, Max: s.Max, Spread: s.Spread, Eye: s.Eye, Measured: !s.Assumed, Gauge: s.Gauge}
}

// LineFrom is a material of a sheet as the facts have it.
func LineFrom(l sheet.Line) fact.Line {
	return fact.Line{Material: l.Material, Role: string(l.Role), Share: l.Share.RatString(), Target: l.Target, Low: l.Low, High: l.High,
		Scale: l.Scale, Weighable: string(l.Verdict), U: l.U}
}

func sheetLine(l fact.Line, step protocol.Mass) sheet.Line {
	share, _ := new(big.Rat).SetString(l.Share)
	return sheet.Line{Material: l.Material, Role: sheet.Role(l.Role), Share: share, Target: l.Target, Low: l.Low, High: l.High,
		Scale: l.Scale, Step: step, U: l.U, Verdict: sheet.Verdict(l.Weighable)}
}
