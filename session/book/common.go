package book

import (
	"math/big"
	"slices"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
)

// What cups of one tub have in common cannot make them differ. The masses in the
// tub were weighed once, and whatever is wrong with them is wrong in every cup in
// the same way: in a difference of two cups it falls out, but for what the cups
// make of it differently. Adding up the doubts of the two shares, as for batches
// that know nothing of each other, would count the tub twice and hide a difference
// that is there. The span of a scale is wrong in all that was weighed on it, in the tub and in
// both cups, in the same way.

// common is how far a share of a cup may be off, by where the doubt comes from.
// Shares are fractions of the base here.
type common struct {
	tub string
	own *big.Rat // variance by what was weighed for this cup alone
	// by is what the doubt in each mass of the tub does to the share, with its sign:
	// the derivative times U. The masses stand in the order of the tub.
	by []*big.Rat
	// spans is what the span of each scale does to the share, with its sign.
	spans map[string]*big.Rat
}

// part is one material of a cup, out of the tub or of its own.
type part struct {
	m, u *big.Rat // as weighed, into the tub or into the cup; U without the spans
	on   []doubt.On
	dry  *big.Rat // share of it that is dry
	base bool
}

func partOf(d batch.Delivery, lots []fact.LotUsed, material string, base bool) part {
	dry := big.NewRat(1, 1)
	if w, ok := new(big.Rat).SetString(batch.LotOf(lots, material).Moisture); ok && d.As == "" {
		dry.Sub(dry, w.Quo(w, big.NewRat(100, 1)))
	}
	own := doubt.Root(doubt.Own(d.U, d.On))
	return part{new(big.Rat).SetInt64(int64(d.Delivered)), new(big.Rat).SetInt64(int64(own)), d.On, dry, base}
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
	var xs, ys []part
	at := make([]int, len(n.Lines)) // place in xs, or -1 less the place in ys
	for i, l := range n.Lines {
		if p := slices.IndexFunc(mix.Parts, func(p fact.MixPart) bool { return p.Material == l.Material }); p >= 0 {
			q := mix.Parts[p]
			at[i] = len(xs)
			xs = append(xs, partOf(batch.Delivery{As: q.As, Delivered: q.Mass, U: q.U, On: q.On}, n.Plan.Lots, l.Material, onBase[i]))
			continue
		}
		at[i] = -1 - len(ys)
		ys = append(ys, partOf(went[i], n.Plan.Lots, l.Material, onBase[i]))
	}
	c := newCup(partOf(take.Delivery(), nil, "", false), xs, ys)
	if c.D.Sign() <= 0 {
		return nil
	}
	mixing, _ := new(big.Rat).SetString(mix.Mixing) // nil: older records assume none
	out := make([]*common, len(n.Lines))
	for i, p := range at {
		out[i] = &common{tub: mix.From, own: new(big.Rat), spans: map[string]*big.Rat{}}
		if p >= 0 {
			c.doubtFromTub(out[i], p)
		} else {
			c.doubtOfOwn(out[i], -1-p)
		}
		// Parts of the tub are rounded, to the nanogram in old journals: that is no difference.
		c.addMixing(out[i], p, mixing)
		round := mul(big.NewRat(3*int64(protocol.Nanogram), 1), c.S)
		out[i].own.Add(out[i].own, round.Mul(round.Quo(round, c.D), round))
	}
	return out
}

// cup holds the sums of commons, by the names that they have there.
type cup struct {
	t          part // what was taken of the tub
	xs, ys     []part
	X, Y, S, D *big.Rat
	D2         *big.Rat   // D·D
	grows      []*big.Rat // what a picogram more of a mass in the tub adds to D
}

func newCup(t part, xs, ys []part) cup {
	c := cup{t: t, xs: xs, ys: ys, X: new(big.Rat), Y: new(big.Rat), S: new(big.Rat)}
	for _, x := range xs {
		c.S.Add(c.S, x.m)
		if x.base {
			c.X.Add(c.X, mul(x.m, x.dry))
		}
	}
	for _, y := range ys {
		if y.base {
			c.Y.Add(c.Y, mul(y.m, y.dry))
		}
	}
	c.D = new(big.Rat).Add(mul(t.m, c.X), mul(c.Y, c.S))
	c.D2 = mul(c.D, c.D)
	for _, x := range xs {
		g := new(big.Rat).Set(c.Y)
		if x.base {
			g.Add(g, mul(t.m, x.dry))
		}
		c.grows = append(c.grows, g)
	}
	return c
}

// doubtFromTub adds up where the doubt in the share of material p of the tub comes from.
func (c cup) doubtFromTub(to *common, p int) {
	x := c.xs[p]
	a := mul(c.t.m, x.m, x.dry) // over D it is the share
	for k, other := range c.xs {
		d := new(big.Rat).Neg(mul(a, c.grows[k]))
		if k == p {
			d.Add(d, mul(c.t.m, x.dry, c.D))
		}
		c.addShared(to, d, other)
	}
	c.addOwn(to, mul(x.m, x.dry, c.Y, c.S), c.t)
	for _, y := range c.ys {
		if y.base {
			c.addOwn(to, new(big.Rat).Neg(mul(a, c.S, y.dry)), y)
		}
	}
}

// doubtOfOwn is the same for material p of the cup's own.
func (c cup) doubtOfOwn(to *common, p int) {
	y := c.ys[p]
	a := mul(y.m, y.dry)
	for k, x := range c.xs {
		c.addShared(to, mul(a, new(big.Rat).Sub(c.D, mul(c.S, c.grows[k]))), x)
	}
	c.addOwn(to, new(big.Rat).Neg(mul(a, c.S, c.X)), c.t)
	for j, other := range c.ys {
		d := new(big.Rat)
		if other.base {
			d.Neg(mul(a, c.S, c.S, other.dry))
		}
		if j == p {
			d.Add(d, mul(y.dry, c.S, c.D))
		}
		c.addOwn(to, d, other)
	}
}

// addMixing adds what the tub was not mixed evenly does to the share of material p: each
// cup got its own spoon of it. Of a mass m = t·x/S in the cup, mixing·(1 - x/S) may be
// wrong. p is less than 0 for one of the cup's own.
func (c cup) addMixing(to *common, p int, mixing *big.Rat) {
	if mixing == nil {
		return
	}
	share := func(x part) *big.Rat { return new(big.Rat).Quo(x.m, c.S) }
	base := new(big.Rat).Quo(c.D, c.S)
	of := func() *big.Rat { // dry in the cup
		if p < 0 {
			return mul(c.ys[-1-p].m, c.ys[-1-p].dry)
		}
		return mul(c.t.m, share(c.xs[p]), c.xs[p].dry)
	}()
	for k, x := range c.xs {
		g := new(big.Rat)
		if x.base {
			g.Neg(mul(of, x.dry)).Quo(g, mul(base, base))
		}
		if k == p {
			g.Add(g, new(big.Rat).Quo(x.dry, base))
		}
		wrong := new(big.Rat).Sub(big.NewRat(1, 1), share(x))
		g.Mul(g, mul(c.t.m, share(x), wrong, mixing))
		to.own.Add(to.own, g.Mul(g, g))
	}
}

// effect is what a doubt u does to a share whose derivative, times D², is given.
func (c cup) effect(derivative, u *big.Rat) *big.Rat {
	g := mul(derivative, u)
	return g.Quo(g, c.D2)
}

func (c cup) addShared(to *common, derivative *big.Rat, of part) {
	to.by = append(to.by, c.effect(derivative, of.u))
	c.addSpans(to, derivative, of)
}

func (c cup) addOwn(to *common, derivative *big.Rat, of part) {
	g := c.effect(derivative, of.u)
	to.own.Add(to.own, g.Mul(g, g))
	c.addSpans(to, derivative, of)
}

func (c cup) addSpans(to *common, derivative *big.Rat, of part) {
	for _, x := range of.on {
		if x.Span == 0 {
			continue
		}
		if to.spans[x.Scale] == nil {
			to.spans[x.Scale] = new(big.Rat)
		}
		to.spans[x.Scale].Add(to.spans[x.Scale], c.effect(derivative, new(big.Rat).SetInt64(int64(x.Span))))
	}
}

func mul(a ...*big.Rat) *big.Rat {
	r := big.NewRat(1, 1)
	for _, x := range a {
		r.Mul(r, x)
	}
	return r
}

// jointCommon gives n and d of the U of the difference of two shares of cups of one
// tub, 100·√(n/d).
func jointCommon(a, b *common) (n, d *big.Int) {
	v := new(big.Rat).Add(a.own, b.own)
	for k := range a.by {
		g := new(big.Rat).Sub(a.by[k], b.by[k])
		v.Add(v, g.Mul(g, g))
	}
	for scale, x := range a.spans {
		g := new(big.Rat).Set(x)
		if y := b.spans[scale]; y != nil {
			g.Sub(g, y)
		}
		v.Add(v, g.Mul(g, g))
	}
	for scale, y := range b.spans {
		if a.spans[scale] == nil {
			v.Add(v, mul(y, y))
		}
	}
	return v.Num(), v.Denom()
}
