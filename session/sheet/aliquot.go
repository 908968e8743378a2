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

// Name is what the mixture is called, by which a part of it is weighed out.
func (a Aliquot) Name() string {
	switch {
	case a.Lot != "" && a.Solution():
		return text.New("plan.lot-solution", text.Name("material", a.Material), text.Name("lot", a.Lot)).String()
	case a.Lot != "":
		return text.New("plan.lot-mix", text.Name("carrier", a.Carrier), text.Name("material", a.Material), text.Name("lot", a.Lot)).String()
	case a.Solution():
		return text.New("plan.cup-solution", text.Name("material", a.Material)).String()
	}
	return text.New("plan.cup-mix", text.Name("carrier", a.Carrier), text.Name("material", a.Material)).String()
}

// Solution reports whether the carrier is water, in which the material dissolves.
func (a Aliquot) Solution() bool { return a.Carrier == WaterName }

// Mixing is by how much the part may differ from the mean of the whole.
func (a Aliquot) Mixing() *big.Rat {
	if a.Solution() {
		return Dissolved
	}
	return Mixing
}

// CarrierU is U of the carrier in a part whose weighing has so much: it is the part less the
// material in it, whose doubts are taken to be apart.
func (a Aliquot) CarrierU(take protocol.Mass) protocol.Mass { return doubt.Together(take, a.U) }

// Uncertainty propagates the doubt of the scale through the three weighings to the material
// in the part. What is delivered is take · weigh / (weigh + dilute), so that with Uw of one
// net weight, less its span,
//
//	(U/need)² = Uw²·[ (dilute/(weigh·total))² + (1/total)² + (1/take)² ] + (x·(1-need/take))² + (span/take)²
//
// where x is Mixing, or Dissolved for a solution. The span of the scale falls out of
// weigh / total and stays for take.
func (a Aliquot) Uncertainty(s doubt.Scale) protocol.Mass { return a.Doubt(s, a.Mixing()) }

// Doubt is the same with another x.
func (a Aliquot) Doubt(s doubt.Scale, x *big.Rat) protocol.Mass {
	v := new(big.Rat).SetFrac(doubt.AddSquare(nil, a.Total-a.Weigh), doubt.AddSquare(nil, a.Weigh))
	v.Add(v, big.NewRat(1, 1)).Quo(v, new(big.Rat).SetInt(doubt.AddSquare(nil, a.Total)))
	v.Add(v, new(big.Rat).SetFrac(big.NewInt(1), doubt.AddSquare(nil, a.Take)))
	v.Mul(v, new(big.Rat).SetInt(doubt.AddSquare(nil, a.Need))).Mul(v, s.Reading())
	return doubt.RootUp(v.Add(v, a.apart(s, x)))
}

// apart is what in U² no repeated weighing makes less: the mixing, and the span for the part.
func (a Aliquot) apart(s doubt.Scale, x *big.Rat) *big.Rat {
	over := doubt.AddSquare(nil, a.Take)
	v := new(big.Rat).SetFrac(new(big.Int).Mul(doubt.AddSquare(nil, a.Need), doubt.AddSquare(nil, a.Take-a.Need)), over)
	v.Mul(v, x).Mul(v, x)
	return v.Add(v, new(big.Rat).SetFrac(new(big.Int).Mul(doubt.AddSquare(nil, a.Need), doubt.AddSquare(nil, s.Span(a.Take))), over))
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
