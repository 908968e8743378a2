package book

import (
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
)

// shareDoubts gives the doubt in each share, as the whole number N of
//
//	U² = (100/B²)²·N
//
// by the law of propagation (JCGM 100:2008, 5.1.2, from memory). With B the
// delivered base, the sum over its materials j, and U without the spans of the scales:
//
//	base material i:  s = 100·m/B   N = (B-m)²·U² + m²·Σ(j≠i) Uj²
//	addition i:       s = 100·m/B   N = B²·U² + m²·Σ Uj²
//
// A scale whose span is wrong weighs all by the same factor too much, which falls out of a
// share as far as material and base were weighed on it. With ma and Ba of them weighed on
// scale a, and r = Σ span / Σ mass of all that was weighed there, for each scale
//
//	N += r²·(ma·B - m·Ba)²
func shareDoubts(onBase []bool, went []batch.Delivery, base protocol.Mass) []*big.Int {
	sum := new(big.Int)
	var all, inBase []doubt.On
	for i, w := range went {
		if onBase[i] {
			sum.Add(sum, doubt.Own(w.U, w.On))
			inBase = doubt.Both(inBase, w.On)
		}
		for _, x := range w.On {
			all = doubt.Both(all, []doubt.On{{Scale: x.Scale, Mass: x.Mass.Abs(), Span: x.Span.Abs()}})
		}
	}
	out := make([]*big.Int, len(went))
	for i, w := range went {
		own, others, rest := doubt.Own(w.U, w.On), new(big.Int).Set(sum), base
		if onBase[i] {
			others.Sub(others, own)
			rest -= w.Delivered
		}
		n := doubt.AddSquare(nil, rest)
		n.Mul(n, own)
		out[i] = n.Add(n, others.Mul(others, doubt.AddSquare(nil, w.Delivered)))
		for _, a := range all {
			if a.Span > 0 {
				out[i].Add(out[i], apartBy(a, doubt.OnScale(w.On, a.Scale), w.Delivered, doubt.OnScale(inBase, a.Scale), base))
			}
		}
	}
	return out
}

// apartBy is what the span of one scale adds to N, rounded up.
func apartBy(a doubt.On, ma, m, inBase, base protocol.Mass) *big.Int {
	product := func(x, y protocol.Mass) *big.Int { return new(big.Int).Mul(big.NewInt(int64(x)), big.NewInt(int64(y))) }
	d := product(ma, base)
	d.Sub(d, product(m, inBase)).Mul(d, big.NewInt(int64(a.Span)))
	d.Mul(d, d)
	rest := new(big.Int)
	if d.QuoRem(d, doubt.AddSquare(nil, a.Mass), rest); rest.Sign() > 0 {
		d.Add(d, big.NewInt(1))
	}
	return d
}

// fourth is m⁴.
func fourth(m protocol.Mass) *big.Int {
	n := doubt.AddSquare(nil, m)
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

// supported writes a share in percent, or a difference of two, with no digit that its
// doubt does not support. What computes goes on with all of them.
func supported(share, u string) string {
	plus := strings.HasPrefix(share, "+")
	m, err := protocol.ParseMass(strings.TrimPrefix(share, "+") + "g")
	d, bad := protocol.ParseMass(u + "g")
	if err != nil || bad != nil {
		return share
	}
	if share = m.Rounded(min(batch.SharePlaces, d.Digits())); plus {
		return signed(share)
	}
	return share
}

// doubted writes the doubt in a share with two digits that count.
func doubted(u string) string {
	d, err := protocol.ParseMass(u + "g")
	if err != nil || d == 0 {
		return u
	}
	return d.TwoDigits().Grams(min(batch.SharePlaces, d.Digits()))
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
