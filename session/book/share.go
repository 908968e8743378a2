package book

import (
	"math/big"

	"tared/protocol"
	"tared/session/batch"
)

// shareDoubts gives the doubt in each share, as the whole number N of
//
//	U² = (100/B²)²·N
//
// by the law of propagation (JCGM 100:2008, 5.1.2, from memory). With B the
// delivered base, the sum over its materials j:
//
//	base material i:  s = 100·m/B   N = (B-m)²·U² + m²·Σ(j≠i) Uj²
//	addition i:       s = 100·m/B   N = B²·U² + m²·Σ Uj²
func shareDoubts(onBase []bool, went []batch.Delivery, base protocol.Mass) []*big.Int {
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
