package sheet

import (
	"errors"
	"math/big"
	"strconv"

	"tared/protocol"
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

// Uncertainty propagates the U of one net weight of the scale through the three
// weighings to the material in the part. What is delivered is
// take · weigh / (weigh + dilute), so that
//
//	(U/need)² = Uw²·[ (dilute/(weigh·total))² + (1/total)² + (1/take)² ]
//
// It says nothing of how well the mixture is mixed.
func (a Aliquot) Uncertainty(weighing protocol.Mass) protocol.Mass {
	return delivered(weighing, a.Need, a.Take, a.N)
}

// delivered is the formula of Uncertainty with weigh = n·need and
// total = n·take put in: Uw²·((take-need)² + need² + n²·need²)/(n²·take²).
func delivered(U, need, take protocol.Mass, n int64) protocol.Mass {
	n2 := square(protocol.Mass(n))
	num := square(need)
	num.Mul(num, n2).Add(num, square(need)).Add(num, square(take-need)).Mul(num, square(U))
	den := n2.Mul(n2, square(take))
	q, r := num.QuoRem(num, den, new(big.Int))
	if r.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	return RootUp(q, 1)
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
		n := multiple(need, allowed, take, s.u)
		if n == 0 {
			continue
		}
		n = max(n, int64((least-1)/need+1))
		a, err := PlanAliquot(need, min(least, protocol.Mass(n)*need), AliquotOptions{n, take})
		if err != nil || s.limited && (a.Weigh > s.room || a.Dilute > s.room) || a.Dilute < least {
			continue
		}
		if best.Total == 0 || a.Total < best.Total {
			a.U = a.Uncertainty(s.u)
			if a.U <= allowed {
				best = a
			}
		}
	}
	return best, best.Total > 0
}

// multiple gives the smallest n for which delivered is within the allowed, 0
// when no n is: n² >= U²·((take-need)² + need²) / (allowed²·take² - U²·need²).
func multiple(need, allowed, take, U protocol.Mass) int64 {
	den := square(allowed)
	den.Mul(den, square(take))
	u2 := square(U)
	den.Sub(den, new(big.Int).Mul(u2, square(need)))
	if den.Sign() <= 0 {
		return 0
	}
	num := square(take - need)
	num.Add(num, square(need)).Mul(num, u2)
	q, r := num.QuoRem(num, den, new(big.Int))
	if r.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	n := root(q, 1)
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
