package book

import (
	"math/big"
	"math/bits"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/recipe"
)

// sharePlaces is how many decimals a share is written with: a gram in a hundred
// kilograms of base.
const sharePlaces = 3

// Went is what went in of one planned material.
type Went struct {
	As        string        // what went in instead, when substituted
	Delivered protocol.Mass // sum of the portions that count, as weighed
	U         protocol.Mass // root of the sum of the squares of their U
	Skipped   bool
	// Moisture is that of what went in, in percent of it; nil: it was dry.
	Moisture *big.Rat
}

// AsMade gives the lines of a batch as they went in, for the fact that closes it,
// with the delivered base and everything delivered, both without moisture. Went belongs to lines by its place;
// lines without one got nothing.
//
// Shares are percent of the delivered base. Those of base materials are rounded
// by largest remainder, so that they add up to 100.000; an addition's is rounded
// half up.
func AsMade(lines []fact.Line, went []Went) (made []fact.Made, base, dry protocol.Mass) {
	went = append(append([]Went(nil), went...), make([]Went, max(0, len(lines)-len(went)))...)
	onBase := Bases(lines)
	driest := driedAll(went)
	for i := range lines {
		dry += driest[i].Delivered
		if onBase[i] {
			base += driest[i].Delivered
		}
	}
	texts := shareTexts(onBase, driest, base)
	for i, l := range lines {
		w := went[i]
		made = append(made, fact.Made{Material: l.Material, As: w.As, Role: l.Role, Target: l.Target, Delivered: w.Delivered, U: w.U,
			Share: texts[i], Verdict: verdict(l, w)})
		if w.Moisture != nil {
			made[i].Dry = driest[i].Delivered
		}
	}
	return made, base, dry
}

func verdict(l fact.Line, w Went) string {
	switch {
	case w.Skipped:
		return "skipped"
	case w.Delivered > l.High:
		return "over"
	case w.Delivered < l.Low:
		return "under"
	}
	return "in"
}

// Bases tells of each line whether it is part of the 100. Its place says so where it
// has one, else the role of base materials and additions. A strong colourant may be
// either: it is part of the base when the base materials do not add up to 100
// without it.
func Bases(lines []fact.Line) []bool {
	onBase := make([]bool, len(lines))
	missing := big.NewRat(100, 1)
	var strong []int
	var shares []*big.Rat
	for i, l := range lines {
		s, ok := new(big.Rat).SetString(l.Share)
		if !ok {
			s = new(big.Rat)
		}
		switch {
		case l.Place == "base" || l.Place == "" && l.Role == "base":
			onBase[i] = true
			missing.Sub(missing, s)
		case l.Place == "" && l.Role == "strong":
			strong, shares = append(strong, i), append(shares, s)
		}
	}
	if missing.Sign() <= 0 || len(strong) == 0 || len(strong) > 16 {
		return onBase
	}
	// Which of them make up what is missing? The smallest set that does.
	best := 0
	for set := 1; set < 1<<len(strong); set++ {
		if best != 0 && bits.OnesCount(uint(set)) >= bits.OnesCount(uint(best)) {
			continue
		}
		sum := new(big.Rat)
		for k, s := range shares {
			if set>>k&1 == 1 {
				sum.Add(sum, s)
			}
		}
		if sum.Cmp(missing) == 0 {
			best = set
		}
	}
	for k, i := range strong {
		onBase[i] = best>>k&1 == 1
	}
	return onBase
}

// shareTexts writes the shares with three decimals.
func shareTexts(onBase []bool, went []Went, base protocol.Mass) []string {
	texts := make([]string, len(onBase))
	var parts []*big.Rat
	whole := base > 0
	for i, w := range went {
		texts[i] = share(w.Delivered, base).FloatString(sharePlaces)
		if onBase[i] {
			parts = append(parts, w.Delivered.Rat())
			whole = whole && w.Delivered >= 0
		}
	}
	if !whole {
		return texts
	}
	ds, err := recipe.LargestRemainder(parts, sharePlaces)
	if err != nil {
		return texts // nothing above zero: there is nothing to add up
	}
	k := 0
	for i := range texts {
		if onBase[i] {
			texts[i] = ds[k].String()
			k++
		}
	}
	return texts
}

// share is 100·m/base, exact; 0 where there is no base yet.
func share(m, base protocol.Mass) *big.Rat {
	if base <= 0 {
		return new(big.Rat)
	}
	r := big.NewRat(int64(m), int64(base))
	return r.Mul(r, big.NewRat(100, 1))
}

// shareDoubts gives the doubt in each share, as the whole number N of
//
//	U² = (100/B²)²·N
//
// by the law of propagation (JCGM 100:2008, 5.1.2, from memory). With B the
// delivered base, the sum over its materials j:
//
//	base material i:  s = 100·m/B   N = (B-m)²·U² + m²·Σ(j≠i) Uj²
//	addition i:       s = 100·m/B   N = B²·U² + m²·Σ Uj²
func shareDoubts(onBase []bool, went []Went, base protocol.Mass) []*big.Int {
	sum := new(big.Int)
	for i, w := range went {
		if onBase[i] {
			sum.Add(sum, square(w.U))
		}
	}
	out := make([]*big.Int, len(went))
	for i, w := range went {
		own, others, rest := square(w.U), new(big.Int).Set(sum), base
		if onBase[i] {
			others.Sub(others, own)
			rest -= w.Delivered
		}
		n := square(rest)
		n.Mul(n, own)
		out[i] = n.Add(n, others.Mul(others, square(w.Delivered)))
	}
	return out
}

// fourth is m⁴.
func fourth(m protocol.Mass) *big.Int {
	n := square(m)
	return n.Mul(n, n)
}

// rooted gives 100·√(n/d) with so many decimals, rounded up: the U of a share
// from its doubt and the fourth power of its base. It is 0 where there is no base.
func rooted(n, d *big.Int, places int) *big.Rat {
	scale := power(places)
	if d.Sign() <= 0 {
		return new(big.Rat)
	}
	q := new(big.Int).Mul(scale, big.NewInt(100))
	q.Mul(q, q).Mul(q, n)
	m := new(big.Int)
	if q.QuoRem(q, d, m); m.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	return new(big.Rat).SetFrac(rootUp(q), scale)
}

func power(places int) *big.Int {
	return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil)
}

// towards writes r with so many decimals, rounded down or up.
func towards(r *big.Rat, places int, up bool) string {
	scale := power(places)
	n := new(big.Int).Mul(r.Num(), scale)
	q, m := n.DivMod(n, r.Denom(), new(big.Int)) // rounds down, below zero too
	if up && m.Sign() != 0 {
		q.Add(q, big.NewInt(1))
	}
	return new(big.Rat).SetFrac(q, scale).FloatString(places)
}
