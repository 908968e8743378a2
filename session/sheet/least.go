package sheet

import (
	"math/big"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/text"
)

// ErrShare says that a share is not between 0 and 1.
var ErrShare = text.Refuse("sheet.share")

// LeastByStep is the least weighable quantity of the pharmacist: the possible
// error of one weighing over the allowed share. 6 mg at 5 % is 120 mg (UNC
// pharmlabs, "Weighing"). It takes the step or a stated sensitivity as that
// error and knows nothing of repeatability.
func LeastByStep(possible protocol.Mass, share *big.Rat) (protocol.Mass, error) {
	return over(possible.Rat(), share)
}

// LeastByRepeatability is the smallest net weight by repeatability: 2s over the
// share, with s taken as at least 0.41 d (USP <41>, text in force from 1 August
// 2019). With 0.10 % it is 2000 s, and 820 d at the floor.
func LeastByRepeatability(step, spread protocol.Mass, share *big.Rat) (protocol.Mass, error) {
	s := atLeast041(step, spread)
	return over(s.Mul(s, big.NewRat(2, 1)), share)
}

// atLeast041 is the repeatability that counts, in grams. 0.41 is two roundings
// of d/√12, together 0.4082 d, rounded up.
func atLeast041(step, spread protocol.Mass) *big.Rat {
	s, floor := spread.Rat(), step.Rat()
	floor.Mul(floor, big.NewRat(41, 100))
	if s.Cmp(floor) < 0 {
		return floor
	}
	return s
}

// LeastByUncertainty is the smallest mass at which U <= share · mass, by our own
// rule; what the span of the scale does is left out. From there on the scale is good for it.
func LeastByUncertainty(s doubt.Scale, share *big.Rat) (protocol.Mass, error) {
	return over(doubt.RootUp(s.Reading()).Rat(), share)
}

// over divides grams by a share, rounded up to the nanogram.
func over(g, share *big.Rat) (protocol.Mass, error) {
	if share == nil || share.Sign() <= 0 || share.Cmp(big.NewRat(1, 1)) > 0 {
		return 0, ErrShare
	}
	return up(new(big.Rat).Quo(g, share))
}
