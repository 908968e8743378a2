package book

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"tared/session/recipe"
	"tared/session/text"
)

// cause is a kind of cause.
type cause string

// The kinds of causes, the likeliest first. The order is common practice, no
// source: the colour answers to a strong colourant first and to the fire next,
// then to the thickness of the coat; who weighed comes near the end.
const (
	byPlan     cause = "recipe"
	byOther    cause = "substitute"
	byStrong   cause = "strong colourant"
	byCone     cause = "cone"
	byAir      cause = "atmosphere"
	byAddition cause = "addition"
	byGravity  cause = "gravity"
	byCoats    cause = "coats"
	byClay     cause = "clay"
	byBase     cause = "base material"
	byMoved    cause = "moved with it"
	byLot      cause = "lot"
	byWater    cause = "water"
	bySieve    cause = "sieve"
	byHold     cause = "hold"
	byKiln     cause = "kiln"
	byPlace    cause = "place in the kiln"
	byScale    cause = "scale"
	byPerson   cause = "operator"
	bySmall    cause = "within the bands"
)

var byWeight = []cause{byPlan, byOther, byStrong, byCone, byAir, byAddition, byGravity, byCoats, byClay, byBase, byMoved, byLot, byWater, bySieve,
	byHold, byKiln, byPlace, byScale, byPerson, bySmall}

// finding is what is to be said of a material: how far apart the batches are, or
// one of them from all others.
type finding struct {
	kind     cause
	material string
	says     []text.Message
}

// weighed finds what the amounts that went in can explain, material by material,
// and what they cannot though it is more than U.
func weighed(batches []*Batch, c Comparison, sides [][]side) (found []finding, shifted, slight []string) {
	strays := significant(sides, strays, func(a, b side) *big.Rat { return hundredth(excess(a, b)) })
	for m, l := range c.Lines {
		row := sides[m]
		apart := make([][]weight, len(row))
		worst := none
		for i := range row {
			apart[i] = make([]weight, len(row))
			for j := range i {
				apart[i][j] = judge(row[j], row[i], strays.is(m, i, j))
				apart[j][i] = apart[i][j]
				worst = max(worst, apart[i][j])
			}
		}
		switch worst {
		case small:
			slight = append(slight, l.Material)
		case moved:
			shifted = append(shifted, l.Material)
		case real:
			found = append(found, findings(batches, l, row, apart)...)
		}
	}
	slices.SortStableFunc(found, func(a, b finding) int {
		return cmp.Compare(slices.Index(byWeight, a.kind), slices.Index(byWeight, b.kind))
	})
	return found, shifted, slight
}

func findings(batches []*Batch, l Against, row []side, apart [][]weight) (out []finding) {
	kind := kindOf(l, row)
	if used := tally(batches, func(k int) string { return cmp.Or(row[k].as, l.Material) }, func(k int) bool { return row[k].in && !row[k].open }); len(used) > 1 {
		out = append(out, finding{byOther, l.Material, []text.Message{text.New("compare.other", text.Name("material", l.Material), text.Names("batches", grouped(used)))}})
	}
	real := func(i, j int) bool { return apart[i][j] == real && !other(row[i], row[j]) }
	crowd, odd := split(row, real)
	if len(crowd) == 0 {
		// No crowd to stand apart from: the two that are furthest apart.
		var a, b int
		var most *big.Rat
		for i := range row {
			for j := range i {
				if d := excess(row[j], row[i]); real(i, j) && (most == nil || d.Abs(d).Cmp(most) > 0) {
					a, b, most = j, i, d
				}
			}
		}
		if most == nil {
			return out
		}
		from, to := span(row[a], row[b:b+1])
		say := text.New("compare.two", text.Name("material", l.Material), text.Share("from", from), text.Share("to", to))
		if len(row) > 2 {
			say = text.New("compare.furthest", text.Name("material", l.Material), text.Name("one", batches[a].Mark), text.Name("other", batches[b].Mark), text.Share("from", from), text.Share("to", to))
		}
		return append(out, finding{kind, l.Material, append([]text.Message{say}, whose(batches[a], batches[b], row[a], row[b])...)})
	}
	var rest []side
	var marks []string
	for _, j := range crowd {
		rest = append(rest, row[j])
		marks = append(marks, batches[j].Mark)
	}
	for _, k := range odd {
		from, to := span(row[k], rest)
		say := text.New("compare.apart", text.Name("batch", batches[k].Mark), text.Name("material", l.Material), text.Share("from", from), text.Share("to", to), text.Names("others", marks))
		out = append(out, finding{kind, l.Material, append([]text.Message{say}, whose(batches[crowd[0]], batches[k], row[crowd[0]], row[k])...)})
	}
	return out
}

// split parts the finished batches into a crowd, more than half of them, in which
// none is far from another, and those that are far from all of it. It gives no
// crowd where there is no such parting, or only two batches.
func split(row []side, real func(i, j int) bool) (crowd, odd []int) {
	var all []int
	for k, s := range row {
		if !s.open {
			all = append(all, k)
		}
	}
	if len(all) < 3 {
		return nil, nil
	}
	for _, i := range all {
		var with []int
		for _, j := range all {
			if i == j || !real(i, j) {
				with = append(with, j)
			}
		}
		if len(with) > len(crowd) {
			crowd = with
		}
	}
	for _, i := range all {
		in := slices.Contains(crowd, i)
		for _, j := range crowd {
			if i != j && real(i, j) == in {
				return nil, nil
			}
		}
		if !in {
			odd = append(odd, i)
		}
	}
	if 2*len(crowd) <= len(all) || len(odd) == 0 {
		return nil, nil
	}
	return crowd, odd
}

// whose says in which batch there is more, whether the plans differed, and whether it
// was left out of one.
func whose(first, n *Batch, a, b side) (says []text.Message) {
	if a.plan.Cmp(b.plan) != 0 {
		says = append(says, text.New("compare.beyond-plan"))
	}
	if excess(a, b).Sign() < 0 {
		says = append(says, text.New("compare.less-in", text.Name("batch", n.Mark)))
	} else {
		says = append(says, text.New("compare.more-in", text.Name("batch", n.Mark)))
	}
	if a.verdict == "skipped" {
		says = append(says, text.New("compare.left-out", text.Name("batch", first.Mark)))
	}
	if b.verdict == "skipped" {
		says = append(says, text.New("compare.left-out", text.Name("batch", n.Mark)))
	}
	return says
}

// group is a value and the batches that have it.
type group struct {
	value string
	marks []string
}

// tally groups batches by a value; use says which have one at all.
func tally(batches []*Batch, value func(k int) string, use func(k int) bool) (all []group) {
	for k, n := range batches {
		if !use(k) {
			continue
		}
		v := value(k)
		i := slices.IndexFunc(all, func(g group) bool { return recipe.Key(g.value) == recipe.Key(v) })
		if i < 0 {
			i = len(all)
			all = append(all, group{value: v})
		}
		all[i].marks = append(all[i].marks, n.Mark)
	}
	return all
}

// grouped writes "6 (A, C)" and "7 (B)".
func grouped(all []group) (out []string) {
	for _, g := range all {
		out = append(out, g.value+" ("+strings.Join(g.marks, ", ")+")")
	}
	return out
}
