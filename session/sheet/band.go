package sheet

import (
	"math/big"

	"tared/protocol"
)

// Band is the deviation that a weighing may have: allowed, rounded down to
// whole steps of the scale, and never under one step, for less cannot be seen.
func Band(allowed, step protocol.Mass) protocol.Mass {
	if step <= 0 {
		return allowed
	}
	return max(allowed/step*step, step)
}

// Deviation is what a target may be off before the scale's step is considered.
func (a Allow) Deviation(target protocol.Mass) protocol.Mass {
	if a.Share == nil {
		return a.Fixed
	}
	n := new(big.Int).Mul(big.NewInt(int64(target)), a.Share.Num())
	return protocol.Mass(n.Quo(n, a.Share.Denom()).Int64())
}

// Uncertainty gives the standard uncertainty u of a net weight on a scale of
// step d and repeatability s, and the expanded U = 2u. A net weight is a
// difference of two readings, each rounded to the step, so
// u = sqrt(d²/6 + s²): d²/12 for each rounding (GUM, JCGM 100:2008, F.2.2.1).
// A spread of 0 stands for "not measured": half a step is assumed then (common
// practice, no source). Both are rounded up to the nanogram.
func Uncertainty(step, spread protocol.Mass) (u, expanded protocol.Mass, assumed bool) {
	s := big.NewInt(int64(spread))
	six := big.NewInt(6)
	d := big.NewInt(int64(step))
	d.Mul(d, d) // d²
	s.Mul(s, s).Mul(s, six)
	if spread == 0 {
		assumed = true
		// 6 (d/2)² = 1.5 d², in halves to stay whole
		s.Mul(d, big.NewInt(3)).Quo(s, big.NewInt(2))
	}
	sum := new(big.Int).Add(d, s) // 6 u²
	return rootUp(new(big.Int).Set(sum), six), rootUp(sum.Mul(sum, big.NewInt(4)), six), assumed
}

// rootUp is the square root of n/d in whole units, rounded up.
func rootUp(n, d *big.Int) protocol.Mass {
	r := new(big.Int).Sqrt(new(big.Int).Quo(n, d))
	for {
		q := new(big.Int).Mul(r, r)
		if q.Mul(q, d).Cmp(n) >= 0 {
			return protocol.Mass(r.Int64())
		}
		r.Add(r, big.NewInt(1))
	}
}

// Judge says how well a scale of this step, with this U, can weigh to within
// allowed.
func Judge(step, expanded, allowed protocol.Mass) Verdict {
	switch {
	case expanded <= allowed:
		return Good
	case step <= allowed:
		return Coarse
	}
	return Blind
}

// DefaultAllow is what a role may be off where the user sets nothing: 1 % of a
// base material, 2 % of an addition.
func DefaultAllow(r Role) Allow {
	if r == Base {
		return Allow{Share: big.NewRat(1, 100)}
	}
	return Allow{Share: big.NewRat(2, 100)}
}

func allowFor(m map[Role]Allow, r Role) Allow {
	if a, ok := m[r]; ok {
		return a
	}
	return DefaultAllow(r)
}
