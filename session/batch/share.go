package batch

import (
	"math/big"
	"math/bits"
	"slices"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/recipe"
)

// Bases reports of each line whether it is part of the 100. Its place says so where it
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

func shareTexts(onBase []bool, went []Delivery, base protocol.Mass) []string {
	texts := make([]string, len(onBase))
	var parts []*big.Rat
	whole := base > 0
	for i, w := range went {
		texts[i] = share(w.Delivered, base).FloatString(SharePlaces)
		if onBase[i] {
			parts = append(parts, w.Delivered.Rat())
			whole = whole && w.Delivered >= 0
		}
	}
	if !whole {
		return texts
	}
	ds, err := recipe.LargestRemainder(parts, SharePlaces)
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

// OfDry writes an amount in percent of everything dry.
func OfDry(m, dry protocol.Mass) string {
	return share(m, dry).FloatString(SharePlaces)
}

// AsMade gives the lines of a batch as they went in, for the fact that closes it,
// with the delivered base and everything delivered, both without moisture. A
// delivery belongs to a line by its place; lines without one got nothing.
//
// Shares are percent of the delivered base. Those of base materials are rounded
// by largest remainder, so that they add up to 100.000; an addition's is rounded
// half up. Where nobody knows how much went in, there is none.
func AsMade(lines []fact.Line, all []Delivery) (made []fact.Made, base, dry protocol.Mass) {
	all = append(slices.Clone(all), make([]Delivery, max(0, len(lines)-len(all)))...)
	onBase, known := Bases(lines), true
	dried := DriedAll(all)
	for i := range lines {
		dry += dried[i].Delivered
		if onBase[i] {
			base += dried[i].Delivered
			known = known && !all[i].NotKnown
		}
	}
	texts := shareTexts(onBase, dried, base)
	for i, l := range lines {
		d := all[i]
		if !known || d.NotKnown {
			texts[i] = "" // a share of nobody knows how much
		}
		made = append(made, d.made(l, texts[i]))
		if d.Moisture != nil {
			made[i].Dry = dried[i].Delivered
		}
	}
	return made, base, dry
}

func (d Delivery) made(l fact.Line, share string) fact.Made {
	return fact.Made{Material: l.Material, As: d.As, Role: l.Role, Target: l.Target, Delivered: d.Delivered, U: d.U, Share: share, Verdict: marked(l, d)}
}
