package book

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
)

// What cups of one tub have in common cannot make them differ. The masses in the
// tub were weighed once, and whatever is wrong with them is wrong in every cup in
// the same way: in a difference of two cups it falls out, but for what the cups
// make of it differently. Adding up the doubts of the two shares, as for batches
// that know nothing of each other, would count the tub twice and hide a difference
// that is there.

// common is how far a share of a cup may be off, by where the doubt comes from.
// Shares are fractions of the base here.
type common struct {
	tub string
	own *big.Rat // variance by what was weighed for this cup alone
	// by is what the doubt in each mass of the tub does to the share, with its sign:
	// the derivative times U. The masses stand in the order of the tub.
	by []*big.Rat
}

// part is one material of a cup, out of the tub or of its own.
type part struct {
	m, u *big.Rat // as weighed, into the tub or into the cup
	dry  *big.Rat // share of it that is dry
	base bool
}

func partOf(m, u protocol.Mass, lots []fact.LotUsed, material string, as string, base bool) part {
	dry := big.NewRat(1, 1)
	if w, ok := new(big.Rat).SetString(batch.LotOf(lots, material).Moisture); ok && as == "" {
		dry.Sub(dry, w.Quo(w, big.NewRat(100, 1)))
	}
	return part{new(big.Rat).SetInt64(int64(m)), new(big.Rat).SetInt64(int64(u)), dry, base}
}

// commons gives for each line of a cup where the doubt in its share comes from; nil
// for a batch that is none. With x the masses in the tub, S their sum, t what was
// taken of it, y the cup's own, d what of each is dry, and
//
//	X = Σ x·d of the base    Y = Σ y·d of the base    D = t·X + Y·S
//
// the share of a material of the tub is t·x·d/D and that of an own one y·d·S/D. The
// rest is their derivatives (law of propagation, JCGM 100:2008, 5.1.2, from memory).
func (n *Batch) commons(went []batch.Delivery, onBase []bool) []*common {
	k := slices.IndexFunc(n.Mixes, func(m batch.Mix) bool { return m.From != "" })
	if k < 0 || len(n.Mixes) != 1 {
		return nil // with mixing cups besides it is left as it is
	}
	mix := n.Mixes[k]
	_, _, take := n.CupSteps(k)
	t, ut := new(big.Rat).SetInt64(int64(take.Delivered)), new(big.Rat).SetInt64(int64(take.DeliveredU()))
	var xs, ys []part
	at := make([]int, len(n.Lines)) // place in xs, or -1 less the place in ys
	for i, l := range n.Lines {
		if p := slices.IndexFunc(mix.Parts, func(p fact.MixPart) bool { return p.Material == l.Material }); p >= 0 {
			at[i] = len(xs)
			xs = append(xs, partOf(mix.Parts[p].Mass, mix.Parts[p].U, n.Plan.Lots, l.Material, mix.Parts[p].As, onBase[i]))
			continue
		}
		at[i] = -1 - len(ys)
		ys = append(ys, partOf(went[i].Delivered, went[i].U, n.Plan.Lots, l.Material, went[i].As, onBase[i]))
	}
	mul := func(a ...*big.Rat) *big.Rat {
		r := big.NewRat(1, 1)
		for _, x := range a {
			r.Mul(r, x)
		}
		return r
	}
	X, Y, S := new(big.Rat), new(big.Rat), new(big.Rat)
	for _, x := range xs {
		S.Add(S, x.m)
		if x.base {
			X.Add(X, mul(x.m, x.dry))
		}
	}
	for _, y := range ys {
		if y.base {
			Y.Add(Y, mul(y.m, y.dry))
		}
	}
	D := new(big.Rat).Add(mul(t, X), mul(Y, S))
	if D.Sign() <= 0 {
		return nil
	}
	D2 := mul(D, D)
	// What a nanogram more of a mass in the tub adds to D.
	grows := make([]*big.Rat, len(xs))
	for k, x := range xs {
		grows[k] = new(big.Rat).Set(Y)
		if x.base {
			grows[k].Add(grows[k], mul(t, x.dry))
		}
	}
	out := make([]*common, len(n.Lines))
	for i := range out {
		c := &common{tub: mix.From, own: new(big.Rat)}
		own := func(derivative, u *big.Rat) {
			g := mul(derivative, u)
			g.Quo(g, D2)
			c.own.Add(c.own, g.Mul(g, g))
		}
		shared := func(derivative, u *big.Rat) {
			g := mul(derivative, u)
			c.by = append(c.by, g.Quo(g, D2))
		}
		if p := at[i]; p >= 0 {
			a := mul(t, xs[p].m, xs[p].dry) // over D it is the share
			for k, x := range xs {
				d := new(big.Rat).Neg(mul(a, grows[k]))
				if k == p {
					d.Add(d, mul(t, x.dry, D))
				}
				shared(d, x.u)
			}
			own(mul(xs[p].m, xs[p].dry, Y, S), ut)
			for _, y := range ys {
				if y.base {
					own(mul(a, S, y.dry), y.u)
				}
			}
		} else {
			p = -1 - p
			a := mul(ys[p].m, ys[p].dry)
			for k, x := range xs {
				shared(mul(a, new(big.Rat).Sub(D, mul(S, grows[k]))), x.u)
			}
			own(mul(a, S, X), ut)
			for j, y := range ys {
				d := new(big.Rat)
				if y.base {
					d.Neg(mul(a, S, S, y.dry))
				}
				if j == p {
					d.Add(d, mul(y.dry, S, D))
				}
				own(d, y.u)
			}
		}
		// Parts of the tub are rounded to the nanogram: that is no difference.
		round := mul(big.NewRat(3, 1), S)
		c.own.Add(c.own, round.Mul(round.Quo(round, D), round))
		out[i] = c
	}
	return out
}

// jointCommon gives n and d of the U of the difference of two shares of cups of one
// tub, 100·√(n/d).
func jointCommon(a, b *common) (n, d *big.Int) {
	v := new(big.Rat).Add(a.own, b.own)
	for k := range a.by {
		g := new(big.Rat).Sub(a.by[k], b.by[k])
		v.Add(v, g.Mul(g, g))
	}
	return v.Num(), v.Denom()
}
