package book

import (
	"cmp"
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/sheet"
	"tared/session/text"
)

// Hidden is how much of a material two batches may differ by and nobody can tell: their
// joint U is more than what both are allowed together, so a weighing that shows no
// difference acquits nothing.
type Hidden struct {
	Material string        `json:"material"`
	Mass     protocol.Mass `json:"mass"`    // either way, two digits, rounded up
	Percent  string        `json:"percent"` // of what went in, whole percent or two digits, rounded up
	Step     protocol.Mass `json:"step"`    // of a scale that would have shown it; 0: none would
	kind     cause
	share    *big.Rat // of what went in
}

// verdict is the answer where this is what the weighing leaves open.
func (h Hidden) verdict() text.Message {
	if h.Step == 0 {
		return text.New("compare.cannot-tell", text.Exact("mass", h.Mass, 0), text.Share("percent", h.Percent), text.Name("material", h.Material))
	}
	return text.New("compare.cannot-tell-here", text.Exact("mass", h.Mass, 0), text.Share("percent", h.Percent), text.Name("material", h.Material), text.Exact("step", h.Step, 0))
}

// hiddenIn finds what is hidden, the worst pair for each material, colourants first.
func (c Comparison) hiddenIn(sides [][]side) (out []Hidden) {
	for m, l := range c.Lines {
		var worst *Hidden
		for j, b := range sides[m] {
			for _, a := range sides[m][:j] {
				if h := hiddenBetween(a, b); h != nil && (worst == nil || h.share.Cmp(worst.share) > 0) {
					worst = h
				}
			}
		}
		if worst != nil {
			worst.Material, worst.kind = l.Material, kindOf(l, sides[m])
			out = append(out, *worst)
		}
	}
	slices.SortStableFunc(out, func(a, b Hidden) int {
		return cmp.Or(cmp.Compare(slices.Index(byWeight, a.kind), slices.Index(byWeight, b.kind)), b.share.Cmp(a.share))
	})
	return out
}

// hiddenBetween gives what is hidden between two batches; nil: nothing that matters.
func hiddenBetween(a, b side) *Hidden {
	if a.bound && b.bound && !together(a, b) && a.microU+b.microU <= a.microBand+b.microBand {
		return nil
	}
	most := a
	if b.share().Cmp(a.share()) > 0 {
		most = b
	}
	if a.open || b.open || other(a, b) || most.m.Sign() <= 0 || most.base.Cmp(big.NewInt(1)) <= 0 {
		return nil
	}
	grams := func(share *big.Rat) *big.Rat { // a share in percent as a mass in the base
		r := new(big.Rat).Mul(share, new(big.Rat).SetFrac(most.base, big.NewInt(int64(protocol.Gram))))
		return r.Quo(r, big.NewRat(100, 1))
	}
	n, per := joint(a, b)
	u := rooted(n, per, 9)
	bands := new(big.Rat).Add(a.band(), b.band())
	if u.Cmp(bands) <= 0 {
		return nil
	}
	h := &Hidden{share: new(big.Rat).Quo(u, most.share())}
	h.Mass = doubt.Outward(new(big.Rat).Mul(grams(u), new(big.Rat).SetInt64(int64(protocol.Gram)))).TwoDigits()
	h.Percent = upTo(new(big.Rat).Mul(h.share, big.NewRat(100, 1)))
	allowed := grams(bands)
	for step := protocol.Gram; step >= protocol.Microgram; step /= 10 {
		// 2u of a difference of two weighings of which only the step is known
		d := step.Rat()
		if d.Mul(d, d).Mul(d, big.NewRat(10, 3)).Cmp(new(big.Rat).Mul(allowed, allowed)) <= 0 {
			h.Step = step
			break
		}
	}
	return h
}

// upTo writes a percentage in two digits, rounded up.
func upTo(p *big.Rat) string {
	for places := range 6 {
		if s := towards(p, places, true); places > 0 || p.Cmp(big.NewRat(10, 1)) >= 0 {
			return s
		}
	}
	return ""
}

// kindOf says what kind of cause a difference in a material is.
func kindOf(l Against, row []side) cause {
	switch {
	case slices.ContainsFunc(row, func(s side) bool { return s.role == string(sheet.Strong) }):
		return byStrong
	case !l.Addition:
		return byBase
	}
	return byAddition
}

// sure are the differences of each material between each two batches that count.
type sure [][][]bool

func (s sure) is(m, i, j int) bool { return s[m][max(i, j)][min(i, j)] }

// significant finds them. Many materials of many pairs of batches are compared at once, and at two
// standard deviations one in twenty would differ by chance: so the largest of all N differences must be as
// unlikely as one in N times twenty, the next as if it were one of N-1, and so on until one
// is not (Holm, Scand. J. Statist. 6, 1979, from memory). differs reports whether two
// sides differ at k = 2; off is the difference, as a fraction of the base.
func significant(sides [][]side, differs func(a, b side) bool, off func(a, b side) *big.Rat) sure {
	out := make(sure, len(sides))
	for m, row := range sides {
		out[m] = make([][]bool, len(row))
		for i := range row {
			out[m][i] = make([]bool, i)
		}
	}
	if len(sides) == 0 {
		return out
	}
	all, some := 0, []trial(nil)
	for m, row := range sides {
		for i, b := range row {
			for j, a := range row[:i] {
				if a.open || b.open || !a.in && !b.in {
					continue
				}
				all++
				if differs(a, b) {
					t := trial{m: m, i: i, j: j}
					if n, per := joint(a, b); n.Sign() > 0 {
						d := off(a, b)
						t.d2 = d.Mul(d, d).Quo(d, new(big.Rat).SetFrac(n, per))
					}
					some = append(some, t)
				}
			}
		}
	}
	for _, t := range holm(all, some) {
		out[t.m][t.i][t.j] = true
	}
	return out
}

// trial is one difference that is tested: of a material, between two batches.
type trial struct {
	m, i, j int
	d2      *big.Rat // (d/U)²; nil where there is no U
}

// holm gives those of some trials, which differ at k = 2, that differ among all.
func holm(all int, some []trial) (out []trial) {
	if all < 2 {
		return some
	}
	slices.SortStableFunc(some, func(a, b trial) int {
		switch {
		case a.d2 == nil || b.d2 == nil:
			return cmp.Compare(zeroIf(a.d2 == nil), zeroIf(b.d2 == nil))
		}
		return b.d2.Cmp(a.d2)
	})
	for k, t := range some {
		if f := factor(all - k); t.d2 != nil && new(big.Rat).Mul(t.d2, big.NewRat(4_000_000, f*f)).Cmp(big.NewRat(1, 1)) <= 0 {
			break
		}
		out = append(out, t)
	}
	return out
}

func zeroIf(yes bool) int {
	if yes {
		return 0
	}
	return 1
}

// factors are how many thousandths of a standard deviation a difference must be where it is
// one of so many, from 1 on, that all together are as unlikely to be exceeded by chance as
// two by one: quantiles of the normal distribution at 0.0455/2N, rounded up. Beyond
// the last those of beyond serve, each up to its number.
var factors = []int64{2000, 2278, 2429, 2531, 2609, 2671, 2722, 2766, 2804, 2838, 2868, 2895, 2921, 2944, 2965, 2985, 3003, 3020, 3037, 3052,
	3067, 3081, 3094, 3107, 3119, 3130, 3141, 3152, 3162, 3172, 3181, 3191, 3200, 3208, 3216, 3225, 3232, 3240, 3247, 3255,
	3262, 3268, 3275, 3282, 3288, 3294, 3300, 3306, 3312, 3317, 3323, 3328, 3334, 3339, 3344, 3349, 3354, 3359, 3363, 3368}

// beyond are the factors of more than sixty, each for up to so many; the last for all more, of
// which no comparison has any: forty batches of twenty-five materials are 19 500.
var beyond = []struct {
	upTo   int
	factor int64
}{{80, 3447}, {100, 3506}, {150, 3613}, {200, 3687}, {300, 3789}, {500, 3914}, {750, 4011}, {1000, 4078}, {1500, 4171}, {2000, 4237},
	{3000, 4327}, {5000, 4438}, {10_000, 4585}, {20_000, 4728}}

// factor is that of one among n.
func factor(n int) int64 {
	if n <= len(factors) {
		return factors[n-1]
	}
	for _, b := range beyond {
		if n <= b.upTo {
			return b.factor
		}
	}
	return beyond[len(beyond)-1].factor
}
