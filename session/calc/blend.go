package calc

import (
	"fmt"
	"math/big"
	"strings"

	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// The largest blend that is listed.
const (
	maxCorners = 8
	maxPoints  = 2000
)

func runBlend(g given) (Answer, error) {
	corners, steps := g["corners"].n, g["steps"].n
	switch {
	case corners < 2:
		return Answer{}, refuse("corners", g["corners"].text, "calc.there-is-nothing-to-blend")
	case corners > maxCorners:
		return Answer{}, refuse("corners", g["corners"].text, "calc.that-is-too-many-use", maxCorners)
	}
	n := new(big.Int).Binomial(steps+corners-1, corners-1)
	if n.Cmp(big.NewInt(maxPoints)) > 0 {
		return Answer{}, refuse("steps", g["steps"].text, "calc.that-makes-points-use-fewer", n, maxPoints)
	}
	inner := new(big.Int).Binomial(steps-1, corners-1)
	points := lattice(int(corners), steps)
	a := Answer{Table: &Table{Heads: []text.Message{says("calc.no")}}}
	for i := range int(corners) {
		a.Table.Heads = append(a.Table.Heads, says("calc.is", string(rune('A'+i))))
	}
	var parts, shares []string
	for i, p := range points {
		ds, err := recipe.LargestRemainder(p, 9)
		if err != nil {
			return Answer{}, err
		}
		row, whole, exact := []string{fmt.Sprint(i + 1)}, make([]string, corners), make([]string, corners)
		for k, share := range p {
			row = append(row, trim(mul(share, hundred).FloatString(2)))
			whole[k] = mul(share, new(big.Rat).SetInt64(steps)).RatString()
			exact[k] = trim(ds[k].String())
		}
		a.Table.Rows = append(a.Table.Rows, row)
		parts = append(parts, "["+strings.Join(whole, ",")+"]")
		shares = append(shares, "["+strings.Join(exact, ",")+"]")
	}
	a.Words = says("calc.a-blend-of-corners-in", fmt.Sprint(corners), fmt.Sprint(steps), n, inner)
	if corners > 3 {
		a.note("calc.each-with-each")
	}
	if !whole(steps) {
		a.note("calc.percent-rounded")
	}
	a.note("calc.blend-by-weight")
	a.put("points", n.String())
	a.put("inner", inner.String())
	a.numbers("compositions", shares)
	a.numbers("parts", parts)
	return a, nil
}

// whole reports whether the step is a whole number of hundredths of a percent.
func whole(steps int64) bool { return 10_000%steps == 0 }

// lattice gives the shares of every point, in reading order from the first
// corner: what is most of the first comes first.
func lattice(corners int, steps int64) [][]*big.Rat {
	var points [][]*big.Rat
	if corners == 3 {
		for _, p := range sheet.Triangle(int(steps)) {
			points = append(points, p[:])
		}
		return points
	}
	parts := make([]int64, corners)
	var fill func(corner int, left int64)
	fill = func(corner int, left int64) {
		if corner == corners-1 {
			parts[corner] = left
			p := make([]*big.Rat, corners)
			for i, n := range parts {
				p[i] = big.NewRat(n, steps)
			}
			points = append(points, p)
			return
		}
		for n := left; n >= 0; n-- {
			parts[corner] = n
			fill(corner+1, left-n)
		}
	}
	fill(0, steps)
	return points
}
