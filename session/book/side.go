package book

import (
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/recipe"
	"tared/session/sheet"
)

// side is one material of one batch, exact.
type side struct {
	in      bool
	open    bool // the batch is not finished: its shares mean nothing yet
	unknown bool // nobody knows how much went in, or how much base: it is as open as that
	as      string
	m       *big.Int // delivered
	base    *big.Int // delivered; 1 where there is none, so that the share is what it is: nothing
	doubt   *big.Int // of the share, see shareDoubts
	four    *big.Int // base⁴
	text    string
	was     string // the share when the batch was closed, where the amount was corrected since
	verdict string
	plan    *big.Rat // share planned; 0 where it is not in the plan
	role    string
	weighed protocol.Mass // delivered, with its moisture
	target  protocol.Mass // the same
	low     protocol.Mass
	high    protocol.Mass
	over    *big.Rat // share less plan
	common  *common  // where its doubt comes from, in a cup of a series
	bound   bool     // micro and microU hold, see quick
	micro   int64
	microU  int64
	// microBand is band in the same unit, rounded down.
	microBand int64
}

func (s side) share() *big.Rat {
	r := new(big.Rat).SetFrac(s.m, s.base)
	return r.Mul(r, big.NewRat(100, 1))
}

// joint gives n and d of the U of the difference of two shares, 100·√(n/d).
func joint(a, b side) (n, d *big.Int) {
	if together(a, b) {
		return jointCommon(a.common, b.common)
	}
	n = new(big.Int).Mul(a.doubt, b.four)
	n.Add(n, new(big.Int).Mul(b.doubt, a.four))
	return n, new(big.Int).Mul(a.four, b.four)
}

// differ reports whether two shares differ by more than their joint U. It is exact:
// with m and B of the two,
//
//	(m/B - m'/B')² > N/B⁴ + N'/B'⁴
//
// is brought onto whole numbers, since a batch may be compared with many.
func differ(a, b side) bool {
	if a.m.Sign() == 0 && b.m.Sign() == 0 {
		return false
	}
	if yes, sure := quick(a, b); sure {
		return yes
	}
	d := new(big.Int).Mul(a.m, b.base)
	d.Sub(d, new(big.Int).Mul(b.m, a.base))
	n, per := joint(a, b)
	if together(a, b) {
		// (m/B - m'/B')² > n/per
		n = new(big.Int).Mul(n, a.base)
		n.Mul(n, a.base).Mul(n, b.base).Mul(n, b.base)
		return d.Mul(d, d).Mul(d, per).Cmp(n) > 0
	}
	d.Mul(d, a.base).Mul(d, b.base)
	return d.Mul(d, d).Cmp(n) > 0
}

// quick does the same with bounds on share and U in millionths of a percent, which
// settle nearly every pair. It adds up the U of two weighings that know nothing of
// each other, so cups of one tub are left to joint.
func quick(a, b side) (yes, sure bool) {
	if !a.bound || !b.bound || together(a, b) {
		return false, false
	}
	square := func(n int64) int64 { return n * n }
	d := max(a.micro-b.micro, b.micro-a.micro) // the difference is less than one from it
	if d > 0 && square(d-1) > square(a.microU)+square(b.microU) {
		return true, true
	}
	return false, square(d+1) <= square(max(a.microU-1, 0))+square(max(b.microU-1, 0))
}

// bounded sets the bounds: share rounded down, U rounded up.
func (s *side) bounded() {
	const most = 1 << 30 // a thousand percent; squares and their sum fit
	q := new(big.Int).Mul(s.m, big.NewInt(100_000_000))
	q.Div(q, s.base)
	u := rooted(s.doubt, s.four, 6)
	un := new(big.Int).Mul(u.Num(), big.NewInt(1_000_000))
	un.Div(un, u.Denom())
	if s.bound = q.IsInt64() && un.IsInt64() && q.Int64() >= 0 && q.Int64() < most && un.Int64() < most; s.bound {
		s.micro, s.microU = q.Int64(), un.Int64()
		band := new(big.Rat).Mul(s.band(), big.NewRat(1_000_000, 1))
		if q.Quo(band.Num(), band.Denom()); q.IsInt64() && q.Int64() < most {
			s.microBand = q.Int64()
		}
	}
}

// apart reports whether a material differs: there is more of it than the weighing
// can be wrong by, or something else went in.
func apart(a, b side, differs bool) bool {
	return !a.open && !b.open && (differs || other(a, b))
}

func hundredth(r *big.Rat) *big.Rat { return r.Quo(r, big.NewRat(100, 1)) }

func other(a, b side) bool { return recipe.Key(a.as) != recipe.Key(b.as) }

// together reports whether two shares are of cups of one tub.
func together(a, b side) bool {
	return a.common != nil && b.common != nil && a.common.tub == b.common.tub && len(a.common.by) == len(b.common.by)
}

// excess gives how much more of a material is in b than in a, in percent of the
// base, beyond what the two recipes say.
func excess(a, b side) *big.Rat { return new(big.Rat).Sub(b.over, a.over) }

// strays reports whether that is more than the joint U.
func strays(a, b side) bool {
	if a.plan.Cmp(b.plan) == 0 {
		return differ(a, b) // the same in whole numbers, which is quicker
	}
	n, four := joint(a, b)
	d := excess(a, b)
	d.Quo(d, big.NewRat(100, 1))
	return d.Mul(d, d).Cmp(new(big.Rat).SetFrac(n, four)) > 0
}

const (
	none  weight = iota // within the joint U, or as planned
	small               // not surely more than the bands of the two allow
	moved               // weighed as alike as that, and only the shares are further apart: the base is not the same
	real                // what went in can explain a difference
)

// judge weighs the difference of two batches in one material, of which it is known whether
// it strays.
func judge(a, b side, strays bool) weight {
	switch {
	case a.open || b.open:
		return none
	case other(a, b):
		return real
	case !strays:
		return none
	}
	n, four := joint(a, b)
	u := new(big.Rat).SetFrac(n, four)
	band := new(big.Rat).Add(a.band(), b.band())
	within := func(d *big.Rat) bool { // d less the bands is within U
		if d.Abs(d).Sub(d, band); d.Sign() <= 0 {
			return true
		}
		d.Quo(d, big.NewRat(100, 1))
		return d.Mul(d, d).Cmp(u) <= 0
	}
	switch {
	case within(excess(a, b)):
		return small
	case within(new(big.Rat).Sub(b.own(), a.own())):
		return moved
	}
	return real
}

// band gives half the band, as percent of the base. It is no wider than what a
// role is allowed where the user sets nothing: a band can be as wide as a step of
// the scale is coarse, and to be in it is not to be alike.
func (s side) band() *big.Rat {
	if s.target <= 0 {
		return new(big.Rat)
	}
	half := min((s.high-s.low)/2, sheet.Standard(sheet.Role(s.role)).Of(s.target))
	r := big.NewRat(int64(half), int64(s.target))
	return r.Mul(r, s.plan)
}

// own gives how far a material is off by its own weighing, as percent of the base
// planned: what the other materials do to its share is not in it.
func (s side) own() *big.Rat {
	if s.target <= 0 {
		return new(big.Rat).Set(s.over)
	}
	r := big.NewRat(int64(s.weighed), int64(s.target))
	return r.Sub(r, big.NewRat(1, 1)).Mul(r, s.plan)
}

// What a difference is taken for.
type weight int

// span gives the least and the most that a batch can differ from any of others,
// rounded outwards to two decimals, to three where two would hide that it is more
// than nothing.
func span(a side, others []side) (from, to string) {
	var low, high *big.Rat
	for _, b := range others {
		n, four := joint(a, b)
		d := excess(a, b)
		d.Abs(d)
		u := rooted(n, four, 9)
		least, most := new(big.Rat).Sub(d, u), new(big.Rat).Add(d, u)
		if low == nil || least.Cmp(low) < 0 {
			low = least
		}
		if high == nil || most.Cmp(high) > 0 {
			high = most
		}
	}
	for _, places := range []int{2, 3, 6} {
		if from = towards(low, places, false); strings.Trim(from, "-0.") != "" || places == 6 {
			return from, towards(high, places, true)
		}
	}
	return "", ""
}
