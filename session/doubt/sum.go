package doubt

import (
	"math/big"

	"tared/protocol"
)

// On is what of an amount was weighed on one scale, and what its span makes of that. In a
// part of a mixture both can be negative: a scale that weighs too much makes less of what
// was put beside.
type On struct {
	Scale string        `json:"scale"`
	Mass  protocol.Mass `json:"mass"`
	Span  protocol.Mass `json:"span,omitzero"` // part of U
}

// Both gives what two amounts have together of each scale. The span of one scale errs the
// same way in both, so it adds up.
func Both(a, b []On) []On {
	out := append([]On(nil), a...)
next:
	for _, x := range b {
		for i := range out {
			if out[i].Scale == x.Scale {
				out[i].Mass += x.Mass
				out[i].Span += x.Span
				continue next
			}
		}
		out = append(out, x)
	}
	return out
}

// OnScale gives the mass that was weighed on one scale.
func OnScale(on []On, scale string) (m protocol.Mass) {
	for _, x := range on {
		if x.Scale == scale {
			m += x.Mass
		}
	}
	return m
}

// Less takes b away from a.
func Less(a, b []On) []On {
	away := make([]On, len(b))
	for i, x := range b {
		away[i] = On{x.Scale, -x.Mass, -x.Span}
	}
	return Both(a, away)
}

// Spans gives the square of what the spans of all scales make of an amount: scales know
// nothing of each other.
func Spans(on []On) *big.Int {
	sum := new(big.Int)
	for _, x := range on {
		sum = AddSquare(sum, x.Span.Abs())
	}
	return sum
}

// Own gives U² less the spans: what a weighing has for itself.
func Own(u protocol.Mass, on []On) *big.Int {
	q := AddSquare(nil, u)
	if q.Sub(q, Spans(on)); q.Sign() < 0 {
		q.SetInt64(0)
	}
	return q
}

// AddSquare gives sum + u²; a negative u takes its square away. The sum given is
// not changed; nil is none.
func AddSquare(sum *big.Int, u protocol.Mass) *big.Int {
	q := big.NewInt(int64(u))
	q.Mul(q, q)
	if sum == nil {
		sum = new(big.Int)
	}
	if u < 0 {
		return q.Sub(sum, q)
	}
	return q.Add(sum, q)
}

// RootUp gives the smallest r of whole nanograms with r² >= v: rounded up, so that an
// uncertainty is never understated. Old journals hold such roots, and what follows from
// them must come out the same.
func RootUp(v *big.Rat) protocol.Mass {
	r := new(big.Int).Quo(v.Num(), v.Denom())
	r.Sqrt(r)
	t := new(big.Int)
	for t.Mul(t.Mul(r, r), v.Denom()).Cmp(v.Num()) < 0 {
		r.Add(r, big.NewInt(1))
	}
	return mass(r).Up(protocol.Nanogram)
}

// Together is the doubt in the sum of what was weighed to within each of these.
func Together(us ...protocol.Mass) protocol.Mass {
	sum := new(big.Int)
	for _, u := range us {
		sum = AddSquare(sum, u)
	}
	return Root(sum)
}

// Root is RootUp of a whole number.
func Root(n *big.Int) protocol.Mass { return RootUp(new(big.Rat).SetInt(n)) }

func mass(n *big.Int) protocol.Mass {
	if n.Cmp(big.NewInt(int64(protocol.Most))) > 0 {
		return protocol.Most
	}
	return protocol.Mass(n.Int64())
}

// Outward rounds away from nothing to a whole unit of a mass.
func Outward(r *big.Rat) protocol.Mass {
	if r.Sign() < 0 {
		return -up(new(big.Rat).Neg(r))
	}
	return up(r)
}

// up rounds up to a whole unit of a mass.
func up(r *big.Rat) protocol.Mass {
	n, rest := new(big.Int).QuoRem(r.Num(), r.Denom(), new(big.Int))
	if rest.Sign() > 0 {
		n.Add(n, big.NewInt(1))
	}
	return mass(n)
}

func rat(m protocol.Mass) *big.Rat { return new(big.Rat).SetInt64(int64(m)) }

func square(m protocol.Mass) *big.Rat {
	r := rat(m)
	return r.Mul(r, r)
}
