package sheet

import (
	"math/big"

	"tared/protocol"
)

// bounds is what an aliquot must keep to beside what is allowed of the material.
type bounds struct {
	carrier protocol.Mass // in the part, at most: what the recipe has of it
	batch   protocol.Mass // everything dry
	thin    int64         // one part in so many at least, so that it dissolves
	water   bool          // it is a solution
}

// mostWeighed is what of a material is weighed for a mixture at most: 50 g, which is plenty
// for a bench, or twice the least that this scale weighs well enough. With more than that U
// hardly falls any further, for then it is the part that counts (ours).
func mostWeighed(least protocol.Mass) protocol.Mass { return max(50*protocol.Gram, 2*least) }

// mostLeft is what of a mixture is left over at most: 500 g, which still are mixed through in
// a bowl, or as much as the batch is, which the potter has the means to mix anyway (ours).
func mostLeft(batch protocol.Mass) protocol.Mass { return max(500*protocol.Gram, batch) }

// suit finds the aliquot that wastes least and delivers the need within what is allowed on
// this scale: a round number of steps of the material, made up to a whole multiple of that,
// as 10 g in 400 g. A part in whole steps goes first; where there is none, the part that
// the scale shows nearest must be good enough too.
func suit(need, allowed protocol.Mass, s measured, b bounds) (Aliquot, bool) {
	if allowed <= 0 || need <= 0 {
		return Aliquot{}, false
	}
	// The least weighable mass for this share, U·need/allowed, rounded up.
	least, err := over(s.u.Rat(), big.NewRat(int64(allowed), int64(need)))
	if err != nil || least > protocol.OnBench/2 {
		return Aliquot{}, false
	}
	var best Aliquot
	for _, times := range rounds(max(2, b.thin), min(1000, 1+int64(b.carrier/need))) {
		take := need * protocol.Mass(times)
		if take < least || s.limited && take > s.room {
			continue
		}
		a := Aliquot{Need: need, Take: take, Less: take - need, Off: take - take.Round(s.Step)}
		if b.water {
			a.Carrier = WaterName
		}
		a, ok := smallest(a, least, allowed, s, mostLeft(b.batch))
		if whole := a.Off == 0; ok && (best.Total == 0 || whole && best.Off != 0 || whole == (best.Off == 0) && a.Total < best.Total) {
			best = a
		}
	}
	return best, best.Total > 0
}

// smallest gives of the mixtures that deliver the need in that part the one that is least.
func smallest(a Aliquot, least, allowed protocol.Mass, s measured, left protocol.Mass) (Aliquot, bool) {
	ratio := a.Take / a.Need
	for _, steps := range rounds(int64((least-1)/s.Step+1), int64(mostWeighed(least)/s.Step)) {
		if a.Weigh = s.Step * protocol.Mass(steps); a.Weigh > protocol.OnBench/ratio {
			break
		}
		a.Dilute, a.Total = a.Weigh*(ratio-1), a.Weigh*ratio
		if a.Total-a.Take > left || s.limited && a.Dilute > s.room {
			break
		}
		a.U = a.Uncertainty(s.Weighs())
		if a.Total >= a.Take && a.Dilute >= least && a.Off.Abs().Times(a.Need, a.Take)+a.U <= allowed {
			return a, true
		}
	}
	return Aliquot{}, false
}

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
