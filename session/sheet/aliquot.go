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
	return Aliquot{Need: need, Weigh: weigh, Dilute: total - weigh, Total: total, Take: take, Less: take - need}, nil
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
	v := new(big.Rat).SetFrac(square(a.Total-a.Weigh), square(a.Weigh))
	v.Add(v, big.NewRat(1, 1)).Quo(v, new(big.Rat).SetInt(square(a.Total)))
	v.Add(v, new(big.Rat).SetFrac(big.NewInt(1), square(a.Take)))
	v.Mul(v, new(big.Rat).SetInt(square(a.Need))).Mul(v, s.Reading())
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

// suit finds the aliquot that wastes least and delivers the need within what is allowed on
// this scale, with at most most of carrier in the part: a round number of steps of the
// colourant, made up to a whole multiple of that, as 10 g in 400 g. A part in whole steps goes
// first; where there is none, the part that the scale shows nearest must be good enough too.
func suit(need, allowed protocol.Mass, s measured, most protocol.Mass) (Aliquot, bool) {
	if allowed <= 0 {
		return Aliquot{}, false
	}
	// The least weighable mass for this share, U·need/allowed, rounded up.
	least, err := over(s.u.Rat(), big.NewRat(int64(allowed), int64(need)))
	if err != nil || least > mostWeighed {
		return Aliquot{}, false
	}
	var best Aliquot
	for _, times := range rounds(2, int64(min(1000, 1+most/need))) {
		take := need * protocol.Mass(times)
		if take < least || s.limited && take > s.room {
			continue
		}
		a, ok := smallest(Aliquot{Need: need, Take: take, Less: take - need, Off: take - take.Round(s.Step)}, least, allowed, s)
		if whole := a.Off == 0; ok && (best.Total == 0 || whole && best.Off != 0 || whole == (best.Off == 0) && a.Total < best.Total) {
			best = a
		}
	}
	return best, best.Total > 0
}

// smallest gives of the mixtures that deliver the need in that part the one that is least.
func smallest(a Aliquot, least, allowed protocol.Mass, s measured) (Aliquot, bool) {
	ratio := a.Take / a.Need
	for _, steps := range rounds(int64((least-1)/s.Step+1), int64(mostWeighed/s.Step)) {
		a.Weigh = s.Step * protocol.Mass(steps)
		a.Dilute, a.Total = a.Weigh*(ratio-1), a.Weigh*ratio
		if a.Total-a.Take > mostLeft || s.limited && a.Dilute > s.room {
			break
		}
		a.U = a.Uncertainty(s.Weighs())
		if a.Total >= a.Take && a.Dilute >= least && a.Off.Abs().Times(a.Need, a.Take)+a.U <= allowed {
			return a, true
		}
	}
	return Aliquot{}, false
}

// What an aliquot may cost at most, in the colourant that is weighed for it and in mixture
// left over: more is a waste, and no longer mixed through by hand (ours).
const (
	mostWeighed = 50 * protocol.Gram
	mostLeft    = 500 * protocol.Gram
)

// rounds gives the round numbers from lo to hi, as a person would weigh: 1, 1.2, 1.5, 2, 2.5,
// 3, 4, 5, 6 and 8 times a power of ten.
func rounds(lo, hi int64) []int64 {
	var out []int64
	for ten := int64(1); ten <= hi && ten < 1<<50; ten *= 10 {
		for _, k := range []int64{10, 12, 15, 20, 25, 30, 40, 50, 60, 80} {
			if n := k * ten / 10; k*ten%10 == 0 && n >= lo && n <= hi {
				out = append(out, n)
			}
		}
	}
	return out
}
