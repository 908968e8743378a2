package sheet

import (
	"errors"
	"math/big"
	"strconv"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/text"
)

// ErrAliquot is in the chain of every error about an aliquot that cannot be.
var ErrAliquot = errors.New("aliquot")

// AliquotOptions are wishes for PlanAliquot; a zero value leaves the choice to
// it.
type AliquotOptions struct {
	N    int64         // the multiple; 0: the smallest that can be weighed
	Take protocol.Mass // the part; 0: the smallest that can be weighed
}

// PlanAliquot plans an aliquot for an amount under the least weighable mass. N
// is whole, N·need, the carrier and the part are all at least the least
// weighable mass. The method and its terms: UNC pharmlabs, "Weighing";
// basicmedicalkey.com, "Accurate weighing for prescriptions".
func PlanAliquot(need, least protocol.Mass, wish ...AliquotOptions) (Aliquot, error) {
	var o AliquotOptions
	if len(wish) > 0 {
		o = wish[0]
	}
	fail := func(err error) (Aliquot, error) { return Aliquot{}, text.Kind(ErrAliquot, err) }
	switch {
	case need <= 0 || least <= 0:
		return fail(text.Refuse("sheet.aliquot-positive"))
	case need >= least && o.N == 0:
		return fail(text.Refuse("sheet.aliquot-as-it-is", text.Exact("need", need, 0)))
	}
	n, take := o.N, o.Take
	if n == 0 {
		n = int64((least-1)/need + 1)
	}
	times := strconv.FormatInt(n, 10)
	if n < 2 {
		return fail(text.Refuse("sheet.aliquot-multiple", text.Number("times", times)))
	}
	if need > protocol.OnBench/protocol.Mass(n) {
		return fail(text.Refuse("sheet.aliquot-range", text.Number("times", times), text.Exact("need", need, 0)))
	}
	weigh := protocol.Mass(n) * need
	if weigh < least {
		return fail(text.Refuse("sheet.aliquot-least", text.Number("times", times), text.Exact("weigh", weigh, 0), text.Exact("least", least, 0), text.Number("use", strconv.FormatInt(int64((least-1)/need+1), 10))))
	}
	// The carrier, n·(take - need), must be weighable as well.
	smallest := max(least, need+(least-1)/protocol.Mass(n)+1)
	if take == 0 {
		take = smallest
	}
	if take < smallest {
		return fail(text.Refuse("sheet.aliquot-part", text.Exact("take", take, 0), text.Exact("smallest", smallest, 0)))
	}
	if take > protocol.OnBench/protocol.Mass(n) {
		return fail(text.Refuse("sheet.aliquot-mixture", text.Number("times", times), text.Exact("take", take, 0)))
	}
	total := protocol.Mass(n) * take
	return Aliquot{Need: need, N: n, Weigh: weigh, Dilute: total - weigh, Total: total, Take: take, Less: take - need}, nil
}

// Held gives how much of the weighed material a part of a mixture holds; a part
// larger than the mixture is refused.
func Held(weigh, total, take protocol.Mass) (*big.Rat, error) {
	if weigh <= 0 || total <= weigh || take <= 0 || take > total {
		return nil, text.Kind(ErrAliquot, text.Refuse("sheet.aliquot-whole", text.Exact("weigh", weigh, 0), text.Exact("total", total, 0), text.Exact("take", take, 0)))
	}
	h := big.NewRat(int64(weigh), int64(total))
	return h.Mul(h, take.Rat()), nil
}

// Uncertainty propagates the doubt of the scale through the three weighings to the material
// in the part. What is delivered is take · weigh / (weigh + dilute), so that with Uw of one
// net weight, less its span,
//
//	(U/need)² = Uw²·[ (dilute/(weigh·total))² + (1/total)² + (1/take)² ] + (x·(1-need/take))² + (span/take)²
//
// where x is Mixing. The span of the scale falls out of weigh / total and stays for take.
func (a Aliquot) Uncertainty(s doubt.Scale) protocol.Mass {
	// With weigh = n·need and total = n·take: Uw²·((take-need)² + need² + n²·need²)/(n²·take²).
	n2 := square(protocol.Mass(a.N))
	num := square(a.Need)
	num.Mul(num, n2).Add(num, square(a.Need)).Add(num, square(a.Take-a.Need))
	v := new(big.Rat).SetFrac(num, n2.Mul(n2, square(a.Take)))
	v.Mul(v, s.Reading())
	return doubt.RootUp(v.Add(v, apart(a.Need, a.Take, s)))
}

// apart is what in U² no repeated weighing makes less: the mixing, and the span for the part.
func apart(need, take protocol.Mass, s doubt.Scale) *big.Rat {
	over := square(take)
	v := new(big.Rat).SetFrac(new(big.Int).Mul(square(need), square(take-need)), over)
	v.Mul(v, Mixing).Mul(v, Mixing)
	return v.Add(v, new(big.Rat).SetFrac(new(big.Int).Mul(square(need), square(s.Span(take))), over))
}

// Geometric gives how much carrier to add at each step of mixing a little into
// a lot: as much as is there already, and what is left at the last. 1 g into
// 15 g goes by 1, 2, 4, 8 (pharmaacademias.com).
func Geometric(active, carrier protocol.Mass) []protocol.Mass {
	var adds []protocol.Mass
	for there := active; carrier > 0 && there > 0; {
		a := min(there, carrier)
		adds = append(adds, a)
		there, carrier = there+a, carrier-a
	}
	return adds
}

// suit finds the aliquot of the least mixture that delivers the need within the
// allowed deviation on this scale, taking at most most of carrier in the part.
func suit(need, allowed protocol.Mass, s measured, most protocol.Mass) (Aliquot, bool) {
	if allowed <= 0 {
		return Aliquot{}, false
	}
	// The least weighable mass for this share, U·need/allowed, rounded up.
	least, err := over(s.u.Rat(), big.NewRat(int64(allowed), int64(need)))
	if err != nil {
		return Aliquot{}, false
	}
	var best Aliquot
	for _, take := range sensible(max(least, need+1), need+most) {
		if s.limited && take > s.room {
			break
		}
		if take%s.Step != 0 {
			continue
		}
		n := multiple(need, allowed, take, s.Weighs())
		if n == 0 {
			continue
		}
		n = shown(max(n, int64((least-1)/need+1)), need, s.Step)
		a, err := PlanAliquot(need, min(least, protocol.Mass(n)*need), AliquotOptions{n, take})
		if err != nil || s.limited && (a.Weigh > s.room || a.Dilute > s.room) || a.Dilute < least || a.Total-a.Take > mostLeft {
			continue
		}
		if best.Total == 0 || a.Total < best.Total {
			a.U = a.Uncertainty(s.Weighs())
			if a.U <= allowed {
				best = a
			}
		}
	}
	return best, best.Total > 0
}

// mostLeft is as much of a mixture as may be left over; more is a waste of colourant, and
// no longer mixed through by hand (ours).
const mostLeft = 500 * protocol.Gram

// shown gives the first multiple from n on that the scale shows to the digit; n itself where
// none up to four times as large does.
func shown(n int64, need, step protocol.Mass) int64 {
	both := new(big.Int).GCD(nil, nil, big.NewInt(int64(need)), big.NewInt(int64(step)))
	every := int64(step) / both.Int64() // the multiples of this are whole steps
	if more := (n-1)/every + 1; every <= 4*n && more*every <= 4*n {
		return more * every
	}
	return n
}

// multiple gives the smallest n for which Uncertainty is within the allowed, 0 when no n is:
// n² >= Uw²·((take-need)² + need²) / ((allowed² - apart)·take² - Uw²·need²).
func multiple(need, allowed, take protocol.Mass, s doubt.Scale) int64 {
	whole := func(n *big.Int) *big.Rat { return new(big.Rat).SetInt(n) }
	den := whole(square(allowed))
	den.Sub(den, apart(need, take, s)).Mul(den, whole(square(take)))
	u2 := s.Reading()
	den.Sub(den, new(big.Rat).Mul(u2, whole(square(need))))
	if den.Sign() <= 0 {
		return 0
	}
	num := square(take - need)
	q := u2.Mul(u2, whole(num.Add(num, square(need)))).Quo(u2, den)
	n := root(new(big.Int).Add(new(big.Int).Quo(q.Num(), q.Denom()), big.NewInt(1)), 1)
	if n.Cmp(big.NewInt(1_000_000)) > 0 {
		return 0
	}
	return max(n.Int64(), 2)
}

// sensible gives the round amounts from at least lo to at most hi: 1, 1.2, 1.5,
// 2, 2.5, 3, 4, 5, 6 and 8 times a power of ten.
func sensible(lo, hi protocol.Mass) []protocol.Mass {
	var out []protocol.Mass
	for ten := protocol.Mass(10); ten <= hi && ten <= 1<<58; ten *= 10 {
		for _, k := range []protocol.Mass{10, 12, 15, 20, 25, 30, 40, 50, 60, 80} {
			if m := k * ten / 10; m >= lo && m <= hi {
				out = append(out, m)
			}
		}
	}
	return out
}
