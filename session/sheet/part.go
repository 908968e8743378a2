package sheet

import (
	"errors"
	"math/big"

	"tared/protocol"
	"tared/session/recipe"
)

// Weighed is a mass with its expanded uncertainty.
type Weighed struct {
	Mass protocol.Mass
	U    protocol.Mass
}

// grain is to what the parts of a mass are rounded: to the nanogram where it is whole
// nanograms, as all are in old journals, whose sums must still come out; else to the
// picogram.
func grain(m protocol.Mass) protocol.Mass {
	if m%protocol.Nanogram == 0 {
		return protocol.Nanogram
	}
	return protocol.Picogram
}

// ErrPart says that a part was asked of a mixture that holds nothing.
var ErrPart = errors.New("a part of nothing")

// Part tells what a part of a dry mixture holds of each of the materials that
// were mixed. Of parts m that add up to S, a part t holds t·m/S; the amounts are
// rounded so that they add up to t, by largest remainder, in the grain of t. With U of the
// weighings, by the law of propagation (JCGM 100:2008, 5.1.2, from memory):
//
//	U² = (Ut·m/S)² + (Um·t·(S-m)/S²)² + Σ(others) (Uo·t·m/S²)²
//
// rounded up. It says nothing of how well the mixture is mixed. The amounts in
// one part hang together, which the U of each does not show.
func Part(mixed []Weighed, part Weighed) ([]Weighed, error) {
	out := make([]Weighed, len(mixed))
	shares := make([]*big.Rat, len(mixed))
	sum := protocol.Mass(0)
	for i, m := range mixed {
		if m.Mass < 0 {
			return nil, ErrPart
		}
		sum += m.Mass
		shares[i] = m.Mass.Rat()
	}
	if sum <= 0 || part.Mass < 0 {
		return nil, ErrPart
	}
	unit := grain(part.Mass)
	held, err := recipe.Apportion(int64(part.Mass/unit), shares)
	if err != nil {
		return nil, err
	}
	// All terms over S⁴: (Ut·m·S)² + (Um·t·(S-m))² + Σ (Uo·t·m)².
	s2 := square(sum)
	den := new(big.Int).Mul(s2, s2)
	all := new(big.Int)
	for _, m := range mixed {
		all.Add(all, square(m.U))
	}
	for i, m := range mixed {
		own := square(m.U)
		n := new(big.Int).Sub(all, own)
		n.Mul(n, square(m.Mass))
		n.Add(n, own.Mul(own, square(sum-m.Mass)))
		n.Mul(n, square(part.Mass))
		t := square(part.U)
		n.Add(n, t.Mul(t, square(m.Mass)).Mul(t, s2))
		q, r := n.QuoRem(n, den, new(big.Int))
		if r.Sign() > 0 {
			q.Add(q, big.NewInt(1))
		}
		out[i] = Weighed{protocol.Mass(held[i]) * unit, RootUp(q, 1)}
	}
	return out, nil
}

// Need gives the part of a mixture that holds so much of its material, rounded
// down to the picogram: need·S/m.
func Need(need, material, sum protocol.Mass) protocol.Mass {
	if material <= 0 {
		return 0
	}
	return need.Times(sum, material)
}
