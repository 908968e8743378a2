package scale

import (
	"errors"
	"fmt"
	"math/big"
	"strings"

	"tared/protocol"
)

// Class is an accuracy class of a non-automatic weighing instrument, OIML R
// 76-1:2006, 3.1. Kitchen and hobby scales have none.
type Class uint8

// The classes, best first.
const (
	NoClass   Class = iota
	ClassI          // special
	ClassII         // high
	ClassIII        // medium
	ClassIIII       // ordinary
)

var classNames = [...]string{"", "I", "II", "III", "IIII"}

// String writes the class as the plate of an instrument does.
func (c Class) String() string { return classNames[c] }

// ParseClass reads a class as the plate of an instrument writes it.
func ParseClass(s string) (Class, error) {
	for c, name := range classNames {
		if c > 0 && strings.EqualFold(strings.TrimSpace(s), name) {
			return Class(c), nil
		}
	}
	return NoClass, fmt.Errorf("accuracy class %q: use I, II, III or IIII, as on the plate of the scale", s)
}

// ErrCheck is in the chain of every error about figures of a check that cannot
// be right.
var ErrCheck = errors.New("impossible figure")

// classLimit is one row of OIML R 76-1:2006 Table 3.
type classLimit struct {
	class      Class
	eMin, eMax protocol.Mass // verification scale interval; eMax 0: no limit
	nMin, nMax int64         // number of intervals; nMax 0: no limit
	least      int64         // lower limit of the minimum capacity, in e
}

// OIML R 76-1:2006 Table 3. Not to be mixed with Canada's SI-98-81 s. 3, whose
// ordinary class goes up to 1200.
var classLimits = []classLimit{
	{ClassI, protocol.Milligram, 0, 50_000, 0, 100},
	{ClassII, protocol.Milligram, 50 * protocol.Milligram, 100, 100_000, 20},
	{ClassII, 100 * protocol.Milligram, 0, 5_000, 100_000, 50},
	{ClassIII, 100 * protocol.Milligram, 2 * protocol.Gram, 100, 10_000, 20},
	{ClassIII, 5 * protocol.Gram, 0, 500, 10_000, 20},
	{ClassIIII, 5 * protocol.Gram, 0, 100, 1_000, 10},
}

// Fit is a class that an instrument may have.
type Fit struct {
	Class Class
	Least protocol.Mass // lower limit of its minimum capacity: below it nothing is promised
}

// Classes tells which classes an instrument with capacity max and verification
// scale interval e may have, best first, by OIML R 76-1:2006 Table 3. Where the
// instrument has an auxiliary digit, e is the interval and not the step shown.
func Classes(max, e protocol.Mass) ([]Fit, error) {
	if err := checkInterval(e); err != nil {
		return nil, err
	}
	if max < e {
		return nil, fmt.Errorf("capacity %s with interval %s: %w: the capacity is below the interval", max, e, ErrCheck)
	}
	n := new(big.Rat).SetFrac64(int64(max), int64(e))
	var fits []Fit
	for _, l := range classLimits {
		switch {
		case e < l.eMin, l.eMax > 0 && e > l.eMax:
		case n.Cmp(new(big.Rat).SetInt64(l.nMin)) < 0:
		case l.nMax > 0 && n.Cmp(new(big.Rat).SetInt64(l.nMax)) > 0:
		default:
			fits = append(fits, Fit{l.class, protocol.Mass(l.least) * e})
		}
	}
	return fits, nil
}

// checkInterval wants 1, 2 or 5 times a power of ten (2014/31/EU Annex I), from a
// milligram (Table 3) to a tonne, above which no bench goes.
func checkInterval(e protocol.Mass) error {
	v := e
	for v > 1 && v%10 == 0 {
		v /= 10
	}
	if v != 1 && v != 2 && v != 5 || e < protocol.Milligram || e > 1000*protocol.Kilogram {
		return fmt.Errorf("verification scale interval %s: %w: it must be 1, 2 or 5 times a power of ten, 0.001 g or more; it is e on the plate of the scale", e, ErrCheck)
	}
	return nil
}

// Upper ends of the first two bands of OIML R 76-1:2006 Table 6, and the end of
// the table, in e. The upper end belongs to its band. (The row "0 to 20 000 e" of
// class II in UK SI 1995/1907 Sch. 2 Table 3, as printed, is a misprint for 5000.)
var errorBands = [...][3]int64{
	ClassI:    {50_000, 200_000, 0},
	ClassII:   {5_000, 20_000, 100_000},
	ClassIII:  {500, 2_000, 10_000},
	ClassIIII: {50, 200, 1_000},
}

// MPE gives the maximum permissible error on initial verification for a load, by
// OIML R 76-1:2006 Table 6: half an interval, one, or one and a half. In service
// it is twice that, see MPEInService.
func MPE(c Class, e, load protocol.Mass) (protocol.Mass, error) {
	if c < ClassI || c > ClassIIII {
		return 0, fmt.Errorf("maximum permissible error: %w: the scale has no accuracy class", ErrCheck)
	}
	if err := checkInterval(e); err != nil {
		return 0, err
	}
	m := new(big.Rat).SetFrac64(int64(load.Abs()), int64(e))
	b := errorBands[c]
	above := func(end int64) bool { return m.Cmp(new(big.Rat).SetInt64(end)) > 0 }
	switch {
	case !above(b[0]):
		return e / 2, nil
	case !above(b[1]):
		return e, nil
	case b[2] > 0 && above(b[2]):
		return 0, fmt.Errorf("load %s at interval %s: %w: class %s ends at %d intervals", load, e, ErrCheck, c, b[2])
	}
	return e + e/2, nil
}

// MPEInService gives the maximum permissible error of an instrument in use:
// twice that of initial verification (OIML R 76-1:2006 3.5.2; UK SI 1995/1907
// Sch. 2 s. 4.2).
func MPEInService(c Class, e, load protocol.Mass) (protocol.Mass, error) {
	m, err := MPE(c, e, load)
	return 2 * m, err
}

// InUse gives the same in whole units of a mass, also beyond the end of the table, where it
// grows with the load from what it is there.
func InUse(c Class, e, load protocol.Mass) (*big.Rat, error) {
	if m, err := MPEInService(c, e, load); err == nil {
		return new(big.Rat).SetInt64(int64(m)), nil
	}
	end := new(big.Rat).SetInt64(int64(e))
	if c < ClassI || c > ClassIIII || errorBands[c][2] == 0 {
		_, err := MPE(c, e, load)
		return nil, err
	}
	end.Mul(end, new(big.Rat).SetInt64(errorBands[c][2]))
	m, err := MPEInService(c, e, protocol.Mass(errorBands[c][2])*e)
	if err != nil {
		return nil, err
	}
	most := new(big.Rat).SetInt64(int64(m))
	return most.Mul(most, end.Quo(new(big.Rat).SetInt64(int64(load.Abs())), end)), nil
}

// Check is the daily check: a known weight is put on and the display read.
type Check struct {
	Nominal  protocol.Mass // what the weight is
	Shown    protocol.Mass // what the scale shows, from zero
	Step     protocol.Mass // of the display
	Class    Class         // NoClass: two steps are allowed
	Interval protocol.Mass // e; zero: Step
}

// CheckResult is what the daily check found.
type CheckResult struct {
	Deviation protocol.Mass // shown less nominal
	Allowed   protocol.Mass // either way
	Pass      bool          //
	Words     string        // one sentence for the record
}

// Run judges the check: by the class limit in service where the scale has a
// class, by two steps where it has none (common practice, no source). The
// weight is taken as true; its own error should be under a third of what is
// allowed (OIML R 76-1:2006 3.7.1).
func (c Check) Run() (CheckResult, error) {
	if c.Nominal <= 0 {
		return CheckResult{}, fmt.Errorf("check weight %s: %w: give its nominal mass", c.Nominal, ErrCheck)
	}
	if c.Step <= 0 {
		return CheckResult{}, fmt.Errorf("check with %s: %w: the step of the scale is not known", c.Nominal, ErrCheck)
	}
	r := CheckResult{Deviation: c.Shown - c.Nominal, Allowed: 2 * c.Step}
	by := "two steps"
	if c.Class != NoClass {
		e := c.Interval
		if e == 0 {
			e = c.Step
		}
		var err error
		if r.Allowed, err = MPEInService(c.Class, e, c.Nominal); err != nil {
			return CheckResult{}, err
		}
		by = "class " + c.Class.String() + " in service"
	}
	r.Pass = r.Deviation.Abs() <= r.Allowed
	places := c.Step.Places()
	verdict := "passes"
	if !r.Pass {
		verdict = "fails: find the cause (level, draught, dirt under the pan) or have it adjusted before weighing on"
	}
	r.Words = fmt.Sprintf("check weight %s g shows %s g, %s g off; %s g allowed (%s): %s", c.Nominal.Grams(places), c.Shown.Grams(places),
		signed(r.Deviation, places), r.Allowed.Grams(places), by, verdict)
	return r, nil
}

func signed(m protocol.Mass, places int) string {
	if m > 0 {
		return "+" + m.Grams(places)
	}
	return m.Grams(places)
}

// Placings is the number of placings of a repeatability run: USP <41> wants ten
// at least.
const Placings = 10

// Repeatability is a run in which one weight is put on and taken off again and
// again: the settled weights, each less the zero before it.
type Repeatability struct {
	Shown []protocol.Mass
}

// Variance gives s squared in square grams, exactly: the spread of single
// placings around their mean, with n-1.
func (r Repeatability) Variance() (*big.Rat, error) {
	n := int64(len(r.Shown))
	if n < 2 {
		return nil, fmt.Errorf("repeatability from %d placings: %w: at least 2 are needed, and %d for a run that counts", n, ErrCheck, Placings)
	}
	// s^2 = (n sum(x^2) - sum(x)^2) / (n (n-1)), from the first value so that the
	// numbers stay small.
	sum, squares := new(big.Int), new(big.Int)
	for _, m := range r.Shown {
		x := big.NewInt(int64(m - r.Shown[0]))
		sum.Add(sum, x)
		squares.Add(squares, x.Mul(x, x))
	}
	num := new(big.Int).Mul(squares, big.NewInt(n))
	num.Sub(num, sum.Mul(sum, sum))
	return new(big.Rat).SetFrac(num, new(big.Int).Mul(big.NewInt(n*(n-1)), squarePicograms)), nil
}

// Spread gives s, rounded up to the nanogram.
func (r Repeatability) Spread() (protocol.Mass, error) {
	v, err := r.Variance()
	if err != nil {
		return 0, err
	}
	return RootUp(v)
}

// Range gives the largest less the smallest. By OIML R 76-1:2006 3.6.1 it may not
// exceed the maximum permissible error of the load.
func (r Repeatability) Range() protocol.Mass {
	if len(r.Shown) == 0 {
		return 0
	}
	lo, hi := r.Shown[0], r.Shown[0]
	for _, m := range r.Shown {
		lo, hi = min(lo, m), max(hi, m)
	}
	return hi - lo
}

var squarePicograms = new(big.Int).Mul(big.NewInt(int64(protocol.Gram)), big.NewInt(int64(protocol.Gram)))

// RootUp gives the square root of a number of square grams, rounded up to the
// nanogram.
func RootUp(v *big.Rat) (protocol.Mass, error) {
	if v.Sign() < 0 {
		return 0, fmt.Errorf("root of %s: %w: it is negative", v.RatString(), ErrCheck)
	}
	num := new(big.Int).Mul(v.Num(), squarePicograms)
	whole, rest := num.QuoRem(num, v.Denom(), new(big.Int))
	root := new(big.Int).Sqrt(whole)
	if rest.Sign() > 0 || new(big.Int).Mul(root, root).Cmp(whole) != 0 {
		root.Add(root, big.NewInt(1))
	}
	if root.Cmp(big.NewInt(int64(protocol.Most))) > 0 {
		return 0, protocol.ErrRange
	}
	return protocol.Mass(root.Int64()).Up(protocol.Nanogram), nil
}

// Eccentricity is one weight placed on the centre and near the edges of the pan.
type Eccentricity struct {
	Load    protocol.Mass
	Centre  protocol.Mass
	Edges   []protocol.Mass
	Allowed protocol.Mass // the maximum permissible error for the load, or two steps
}

// Run gives the largest deviation from the load with its sign, the largest
// difference between an edge and the centre, and whether every place is within
// what is allowed.
func (e Eccentricity) Run() (worst, tilt protocol.Mass, pass bool, err error) {
	if e.Load <= 0 || e.Allowed <= 0 || len(e.Edges) == 0 {
		return 0, 0, false, fmt.Errorf("off-centre test with %s at %d edges: %w: give the load, what is allowed and the edges", e.Load, len(e.Edges), ErrCheck)
	}
	worst = e.Centre - e.Load
	for _, m := range e.Edges {
		if d := m - e.Load; d.Abs() > worst.Abs() {
			worst = d
		}
		if d := m - e.Centre; d.Abs() > tilt.Abs() {
			tilt = d
		}
	}
	return worst, tilt, worst.Abs() <= e.Allowed, nil
}
