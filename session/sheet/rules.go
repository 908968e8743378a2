package sheet

import (
	"math/big"

	"tared/protocol"
	"tared/session/recipe"
)

// Band is the deviation that is kept to: the allowed one rounded down to whole
// steps of the scale, since nothing between two steps can be seen, and never
// under one step.
func Band(allowed, step protocol.Mass) protocol.Mass {
	if step <= 0 {
		return max(allowed, 0)
	}
	return max(allowed/step*step, step)
}

// Judge says how well a scale with this step, whose net weight has the expanded
// uncertainty U, serves where so much is allowed. A measured repeatability can
// make U smaller than a step; U within the allowed is good even then.
func Judge(allowed, step, U protocol.Mass) Verdict {
	switch {
	case U <= allowed:
		return Good
	case allowed < step:
		return Blind
	}
	return Coarse
}

// Of gives the allowed deviation of a target, rounded down to the picogram: a
// share of it or the fixed mass.
func (a Allow) Of(target protocol.Mass) protocol.Mass {
	if a.Share == nil {
		return a.Fixed
	}
	n := new(big.Int).Mul(big.NewInt(int64(target)), a.Share.Num())
	n.Quo(n, a.Share.Denom())
	if n.CmpAbs(big.NewInt(int64(protocol.Most))) > 0 {
		return target
	}
	return protocol.Mass(n.Int64())
}

// Standard is the allowed deviation of a role where the user set none: base
// 1 %, suspenders 10 %, opacifiers 5 %, additions, strong colourants and the first water 2 %
// (common practice, no source). An opacifier goes in by five to twelve in a hundred, where a
// twentieth of it is less than the next bag differs by, and cannot be seen on a tile; yet unlike
// a gum it stays in the glaze, and so gets half as much.
func Standard(r Role) Allow {
	switch r {
	case Base:
		return Allow{Share: big.NewRat(1, 100)}
	case Suspender:
		return Allow{Share: big.NewRat(1, 10)}
	case Opacifier:
		return Allow{Share: big.NewRat(1, 20)}
	}
	return Allow{Share: big.NewRat(1, 50)}
}

// named gives what was said of a material; case and blanks of its name do not
// count.
func named[T any](said map[string]T, material string) (value T, ok bool) {
	for name, v := range said {
		if recipe.Key(name) == recipe.Key(material) {
			return v, true
		}
	}
	return value, false
}

// portions tells how many weighings a target takes on a scale that holds so
// much beside its container; 0 room means that it is not known and one will do.
func portions(target, room protocol.Mass, limited bool) int {
	if !limited {
		return 1
	}
	if room <= 0 {
		return maxPortions + 1
	}
	n := (target-1)/room + 1
	return int(min(n, maxPortions+1))
}

// maxPortions is the most weighings that a target is split into; a batch that
// needs more is too large for its scales.
const maxPortions = 20

var hundred = big.NewRat(100, 1)

// up turns grams into a mass, rounded up to the nanogram.
func up(g *big.Rat) (protocol.Mass, error) {
	n := new(big.Int).Mul(g.Num(), big.NewInt(int64(protocol.Gram)))
	n, r := n.QuoRem(n, g.Denom(), new(big.Int))
	if r.Sign() > 0 {
		n.Add(n, big.NewInt(1))
	}
	if n.CmpAbs(big.NewInt(int64(protocol.Most))) > 0 {
		return 0, protocol.ErrRange
	}
	return protocol.Mass(n.Int64()).Up(protocol.Nanogram), nil
}
