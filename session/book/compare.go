package book

import (
	"math/big"

	"tared/session/batch"
	"tared/session/recipe"
)

// Compare holds two or more batches against the first. Materials stand in the
// order of the first batch, then as the others bring them.
func Compare(batches ...*Batch) Comparison {
	var c Comparison
	type key struct {
		name     string
		addition bool
	}
	one := big.NewInt(1)
	where := map[key]int{}
	var sides [][]side // by material, then by batch
	for k, n := range batches {
		c.reader = n.reader
		c.Batches = append(c.Batches, n.Row())
		plan, went := n.Lines, n.Deliveries()
		made, base, _ := batch.AsMade(plan, went)
		onBase := batch.Bases(plan)
		whole := new(big.Int).Set(one)
		if base > 0 {
			whole.SetInt64(int64(base))
		}
		driest := batch.DriedAll(went)
		doubts, four := shareDoubts(onBase, driest, base), new(big.Int).Exp(whole, big.NewInt(4), nil)
		commons := n.commons(went, onBase)
		before := n.whenClosed()
		for i, l := range plan {
			id := key{recipe.Key(l.Material), !onBase[i]}
			m, ok := where[id]
			if !ok {
				m = len(sides)
				where[id] = m
				row := make([]side, len(batches))
				for j := range row {
					row[j] = side{m: new(big.Int), base: one, doubt: new(big.Int), four: one, open: !batches[j].Finished, plan: new(big.Rat)}
				}
				sides = append(sides, row)
				c.Lines = append(c.Lines, Against{Material: l.Material, Addition: !onBase[i]})
			}
			was := ""
			if before != nil {
				was = before[i].share
			}
			unknown := n.Finished && base > 0 && made[i].Share == ""
			sides[m][k] = side{was: was, in: true, open: !n.Finished || unknown, unknown: unknown, as: went[i].As, m: new(big.Int), base: whole, doubt: new(big.Int), four: four,
				text: made[i].Share, verdict: n.Verdict(l, went[i], 1), plan: new(big.Rat), role: l.Role, weighed: went[i].Delivered, target: l.Target, low: l.Low, high: l.High}
			if p, ok := new(big.Rat).SetString(l.Share); ok {
				sides[m][k].plan = p
			}
			if base > 0 { // no base, no share
				sides[m][k].m.SetInt64(int64(driest[i].Delivered))
				sides[m][k].doubt = doubts[i]
				if i < len(commons) {
					sides[m][k].common = commons[i]
				}
			}
		}
	}
	for _, row := range sides {
		for k := range row {
			row[k].bounded()
			row[k].over = row[k].share()
			row[k].over.Sub(row[k].over, row[k].plan)
		}
	}
	differ := significant(sides, differ, func(a, b side) *big.Rat { return hundredth(new(big.Rat).Sub(b.share(), a.share())) })
	for m := range c.Lines {
		row := sides[m]
		for k, s := range row {
			c.Lines[m].Cells = append(c.Lines[m].Cells, cell(row[0], s, k == 0, k > 0 && apart(row[0], s, differ.is(m, 0, k))))
			for j, t := range row[:k] {
				c.Lines[m].Differs = c.Lines[m].Differs || apart(t, s, differ.is(m, j, k))
			}
		}
	}
	c.why(batches, sides)
	return c
}

func cell(first, s side, reference, differs bool) Cell {
	o := Cell{In: s.in, As: s.as, Verdict: s.verdict}
	if s.open {
		if !s.unknown {
			o.Verdict = ""
		}
		return o
	}
	if s.in {
		o.Share, o.ShareAtClosing = s.text, s.was
		o.U = rooted(s.doubt, s.four, batch.SharePlaces).FloatString(batch.SharePlaces)
	}
	if reference || first.open || !s.in && !first.in {
		return o
	}
	d := s.share()
	o.Less = signed(d.Sub(d, first.share()).FloatString(batch.SharePlaces))
	n, four := joint(first, s)
	o.JointU = rooted(n, four, batch.SharePlaces).FloatString(batch.SharePlaces)
	o.Differs = differs
	return o
}
