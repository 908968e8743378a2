package sheet

import (
	"errors"
	"math/big"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/recipe"
)

// Weighed is a mass with its expanded uncertainty.
type Weighed struct {
	Mass protocol.Mass
	U    protocol.Mass
	On   []doubt.On // of it, what was weighed on each scale, and the part of U that comes of its span
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

// Mixing is by how much what a part of a dry mixture holds may differ from the mean of the
// mixture, as a part of U: 1 % of it. It is assumed, for a mixture that was built up in
// portions, each as much as is there already, and put through a sieve (common practice, no
// source); one that was only stirred can be far worse.
var Mixing = big.NewRat(1, 100)

// Dissolved is the same of a solution that was stirred until it is clear: 0.1 % of it, for
// what dries up and what clings to the glass. It is assumed (common practice, no source).
var Dissolved = big.NewRat(1, 1000)

// Part tells what a part of a dry mixture holds of each of the materials that
// were mixed. Of parts m that add up to S, a part t holds t·m/S; the amounts are
// rounded so that they add up to t, by largest remainder, in the grain of all of them. With U of the
// weighings, by the law of propagation (JCGM 100:2008, 5.1.2, from memory):
//
//	U² = (Ut·m/S)² + (Um·t·(S-m)/S²)² + Σ(others) (Uo·t·m/S²)² + (x·t·m·(S-m)/S²)²
//
// rounded up; x is Mixing or Dissolved, nil where nothing is assumed. The span of a scale is no part of
// that: it falls out of m/S as far as both were weighed on it, and stays for t. The
// amounts in one part hang together, which the U of each does not show.
func Part(mixed []Weighed, part Weighed, x *big.Rat) ([]Weighed, error) {
	out := make([]Weighed, len(mixed))
	shares := make([]*big.Rat, len(mixed))
	sum := protocol.Mass(0)
	var all []doubt.On
	for i, m := range mixed {
		if m.Mass < 0 {
			return nil, ErrPart
		}
		sum += m.Mass
		shares[i] = m.Mass.Rat()
		all = doubt.Both(all, m.On)
	}
	if sum <= 0 || part.Mass < 0 {
		return nil, ErrPart
	}
	unit := grain(part.Mass)
	for _, m := range mixed {
		unit = min(unit, grain(m.Mass))
	}
	held, err := recipe.Apportion(int64(part.Mass/unit), shares)
	if err != nil {
		return nil, err
	}
	// All terms over S⁴: (Ut·m·S)² + (Um·t·(S-m))² + Σ (Uo·t·m)² + (x·t·m·(S-m))².
	s2 := doubt.AddSquare(nil, sum)
	den := new(big.Int).Mul(s2, s2)
	owns := new(big.Int)
	for _, m := range mixed {
		owns.Add(owns, doubt.Own(m.U, m.On))
	}
	for i, m := range mixed {
		own := doubt.Own(m.U, m.On)
		n := new(big.Int).Sub(owns, own)
		n.Mul(n, doubt.AddSquare(nil, m.Mass))
		rest := doubt.AddSquare(nil, sum-m.Mass)
		n.Add(n, own.Mul(own, rest))
		n.Mul(n, doubt.AddSquare(nil, part.Mass))
		t := doubt.Own(part.U, part.On)
		n.Add(n, t.Mul(t, doubt.AddSquare(nil, m.Mass)).Mul(t, s2))
		v := new(big.Rat).SetFrac(n, den)
		if x != nil {
			n := doubt.AddSquare(nil, part.Mass)
			n.Mul(n, doubt.AddSquare(nil, m.Mass)).Mul(n, rest)
			mixing := new(big.Rat).SetFrac(n, den)
			v.Add(v, mixing.Mul(mixing, x).Mul(mixing, x))
		}
		w := Weighed{Mass: protocol.Mass(held[i]) * unit}
		w.On = heldOn(m, all, sum, part)
		w.U = doubt.RootUp(v.Add(v, new(big.Rat).SetInt(doubt.Spans(w.On))))
		out[i] = w
	}
	return out, nil
}

// heldOn says how the spans of the scales act on what a part holds of m: as the part itself
// was weighed, and by how much more, or less, of m was weighed on a scale than of all.
func heldOn(m Weighed, all []doubt.On, sum protocol.Mass, part Weighed) (on []doubt.On) {
	if m.Mass == 0 || part.Mass == 0 {
		return nil
	}
	of := func(x, y, z protocol.Mass) *big.Rat { // x·y/z
		n := new(big.Int).Mul(big.NewInt(int64(x)), big.NewInt(int64(y)))
		return new(big.Rat).SetFrac(n, big.NewInt(int64(z)))
	}
	for _, a := range all {
		// held·(share of m that was weighed there - share of all that was)
		by := of(part.Mass, doubt.OnScale(m.On, a.Scale), sum)
		by.Sub(by, new(big.Rat).Mul(of(part.Mass, m.Mass, sum), of(a.Mass, 1, sum)))
		if by.Sign() != 0 && a.Mass != 0 {
			span := new(big.Rat).Mul(by, of(a.Span, 1, a.Mass))
			on = doubt.Both(on, []doubt.On{{Scale: a.Scale, Mass: doubt.Outward(by), Span: doubt.Outward(span)}})
		}
	}
	for _, x := range part.On {
		on = doubt.Both(on, []doubt.On{{Scale: x.Scale, Mass: doubt.Outward(of(x.Mass, m.Mass, sum)), Span: doubt.Outward(of(x.Span, m.Mass, sum))}})
	}
	return on
}

// Need gives the part of a mixture that holds so much of its material, rounded
// down to the picogram: need·S/m.
func Need(need, material, sum protocol.Mass) protocol.Mass {
	if material <= 0 {
		return 0
	}
	return need.Times(sum, material)
}
