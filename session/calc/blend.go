package calc

import (
	"fmt"
	"math/big"
	"strings"

	"tared/session/recipe"
	"tared/session/sheet"
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
		return Answer{}, refuse("corners", g["corners"].text, "there is nothing to blend with: use 2 for a line or 3 for a triangle")
	case corners > maxCorners:
		return Answer{}, refuse("corners", g["corners"].text, "that is too many: use %d corners at most", maxCorners)
	}
	n := new(big.Int).Binomial(steps+corners-1, corners-1)
	if n.Cmp(big.NewInt(maxPoints)) > 0 {
		return Answer{}, refuse("steps", g["steps"].text, "that makes %s points: use fewer steps, %d points at most", n, maxPoints)
	}
	inner := new(big.Int).Binomial(steps-1, corners-1)
	points := lattice(int(corners), steps)
	a := Answer{Table: &Table{Heads: []string{"no."}}}
	for i := range int(corners) {
		a.Table.Heads = append(a.Table.Heads, string(rune('A'+i)))
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
	a.Words = fmt.Sprintf("A blend of %d corners in %d steps has %s points, %s of them with something of each corner.", corners, steps, n, inner)
	if corners > 3 {
		a.Notes = append(a.Notes, "This blends each corner with each other. A square with a glaze at each of its four corners is another thing: cross two lines for that.")
	}
	if !whole(steps) {
		a.Notes = append(a.Notes, "Percent are rounded here; in parts, a point is exact: whole parts of each corner that add up to the steps.")
	}
	a.Notes = append(a.Notes, "Blend by weight of dry glaze. By volume it holds only where every slip has the same dry material in a litre (topic slip).")
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
