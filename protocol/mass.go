package protocol

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"math/bits"
	"strconv"
	"strings"
)

// Mass is an exact amount of matter in picograms. Picograms are fine enough
// that a thousandth of a grain, a carat, an ounce and a pound are all whole
// numbers, and an int64 of them holds nine tonnes.
type Mass int64

// Whole multiples of the picogram.
const (
	Picogram  Mass = 1
	Nanogram       = 1000 * Picogram
	Microgram      = 1000 * Nanogram
	Milligram      = 1000 * Microgram
	Gram           = 1000 * Milligram
	Kilogram       = 1000 * Gram
)

const (
	// Most is the largest amount there is, either way from zero.
	Most = 9223 * Kilogram
	// OnBench is more than stands on any bench: what scales read, what goes into one
	// batch and what a person says was weighed is held to it, so that sums and small
	// multiples of such masses are always masses too.
	OnBench = 1000 * Kilogram
	// GramPlaces is how many decimals of a gram a Mass has.
	GramPlaces = 12
)

// ErrRange says that an amount is too large, or too fine, to be held as a Mass.
var ErrRange = errors.New("out of the range of exact masses (0.000000000001 g to 9223 kg)")

// Rat gives the mass in grams as an exact fraction.
func (m Mass) Rat() *big.Rat { return big.NewRat(int64(m), int64(Gram)) }

// Abs gives the amount without its sign.
func (m Mass) Abs() Mass {
	if m < 0 {
		return -m
	}
	return m
}

// Places gives how many decimals the mass in grams needs to be written in full.
func (m Mass) Places() int {
	n, v := GramPlaces, int64(m)
	for n > 0 && v%10 == 0 {
		v /= 10
		n--
	}
	return n
}

// StepPlaces gives how many decimals of a gram a weight is shown with on a scale of this
// step: all that the step has, or, where that is no round number of grams, a tenth of it.
func (m Mass) StepPlaces() int {
	n := m.Places()
	for unit := Mass(pow10(GramPlaces - n)); n > 0 && m.Abs()/unit >= 100; n-- {
		unit *= 10
	}
	return n
}

// Grams writes the mass in grams in full, with at least the given number of
// decimals: 84.6 g with 1 place is "84.6", with 2 "84.60", and 84.65 g with 1
// place is still "84.65", for digits are never dropped.
func (m Mass) Grams(places int) string {
	if p := m.Places(); p > places {
		places = p
	}
	return m.decimal(places)
}

// Rounded writes the mass in grams rounded to the given number of decimals,
// halves away from zero. It is for showing, never for recording.
func (m Mass) Rounded(places int) string {
	places = min(max(places, 0), GramPlaces)
	return m.Round(unitOf(places)).decimal(places)
}

// Round gives the nearest multiple of a unit, halves away from zero.
func (m Mass) Round(unit Mass) Mass {
	rest := m % unit
	m -= rest
	switch {
	case rest >= unit-rest:
		m += unit
	case -rest >= unit+rest:
		m -= unit
	}
	return m
}

// Up gives the next multiple of a unit, away from zero; Most where there is none.
func (m Mass) Up(unit Mass) Mass {
	rest := m % unit
	switch {
	case rest == 0:
		return m
	case m < 0:
		return -(-m).Up(unit)
	case m-rest > Most-unit:
		return Most
	}
	return m - rest + unit
}

// Times gives m·n/d, rounded towards zero; Most where it is more, either way. d
// must not be zero.
func (m Mass) Times(n, d Mass) Mass {
	hi, lo := bits.Mul64(uint64(m.Abs()), uint64(n.Abs()))
	q := uint64(Most)
	if by := uint64(d.Abs()); hi < by {
		q, _ = bits.Div64(hi, lo, by)
		q = min(q, uint64(Most))
	}
	if (m < 0) != (n < 0) != (d < 0) {
		return -Mass(q)
	}
	return Mass(q)
}

// In writes the mass in a unit, rounded to as many decimals as a step needs there, six
// at most: with a step of 0.05 oz, 70 g are "2.47". A unit that is none is the gram.
func (m Mass) In(u Unit, step Mass) string {
	per := Mass(u.Picograms())
	if per == 0 || u == UnitGram {
		return m.Rounded(step.Places())
	}
	places, exact := big.NewRat(int64(step), int64(per)).FloatPrec()
	if !exact || places > 6 {
		for places = 0; places < 6 && (step+1).Times(Mass(pow10(places)), 1) < per; {
			places++
		}
	}
	return new(big.Rat).SetFrac64(int64(m), int64(per)).FloatString(places)
}

// ToWeigh writes a mass that is to be weighed to within so much, in the unit that the scale
// shows: with the digits of its step, and with more where the step would hide that much.
func (m Mass) ToWeigh(u Unit, step, within Mass) string {
	switch off := (m.Round(max(step, 1)) - m).Abs(); {
	case u == UnitNone || u == UnitGram:
		return m.Rounded(m.PlacesTo(within, step.Places()))
	case off <= within:
		return m.In(u, step)
	}
	return m.In(u, within)
}

// String writes the mass in grams with its unit, as "84.6 g".
func (m Mass) String() string { return m.Grams(0) + " g" }

func (m Mass) decimal(places int) string {
	b := make([]byte, 0, 32)
	v := uint64(m)
	if m < 0 {
		b = append(b, '-')
		v = uint64(-m)
	}
	b = strconv.AppendUint(b, v/uint64(Gram), 10)
	if places <= 0 {
		return string(b)
	}
	end := len(b) + 1 + places
	b = append(b, '.')
	for unit := Gram / 10; len(b) < end; unit /= 10 {
		digit := byte('0')
		if unit > 0 {
			digit += byte(v / uint64(unit) % 10)
		}
		b = append(b, digit)
	}
	return string(b)
}

type grams struct {
	G string `json:"g"`
}

// MarshalJSON writes {"g":"84.6"}: a decimal string, for a JSON number would
// not keep its digits.
func (m Mass) MarshalJSON() ([]byte, error) { return json.Marshal(grams{m.Grams(0)}) }

// UnmarshalJSON reads what MarshalJSON writes.
func (m *Mass) UnmarshalJSON(b []byte) error {
	// The way it is nearly always written needs no second reading by encoding/json:
	// a journal of many years holds millions of masses.
	if digits, ok := bytes.CutPrefix(b, []byte(`{"g":"`)); ok {
		if digits, ok = bytes.CutSuffix(digits, []byte(`"}`)); ok {
			if d, ok := ParseDigits(digits); ok {
				if v, err := d.Mass(UnitGram); err == nil {
					*m = v
					return nil
				}
			}
		}
	}
	var g grams
	if err := json.Unmarshal(b, &g); err != nil {
		return fmt.Errorf("mass %s: want an object such as {\"g\":\"84.6\"}: %w", b, err)
	}
	d, err := ParseDecimal(g.G)
	if err != nil {
		return err
	}
	v, err := d.Mass(UnitGram)
	if err != nil {
		return err
	}
	*m = v
	return nil
}

// smaller are units that no scale of a workshop shows, and by how many digits each is
// less than a milligram: BIPM, The International System of Units, 9th ed., 2019, Table 7.
var smaller = map[string]uint8{"µg": 3, "μg": 3, "ug": 3, "ng": 6}

// AmountError is an amount that ParseMass cannot read. Why is which of the Amount… faults;
// others say it in the language of who typed it.
type AmountError struct {
	Amount string // as it was typed
	Unit   string // that is none of mass, where that is the fault
	Why    string
	err    error
}

// The faults of an amount.
const (
	AmountNoNumber  = "no-number"
	AmountNoUnit    = "no-unit"
	AmountOtherUnit = "other-unit"
	AmountTwoWays   = "two-ways" // a comma that may be a decimal mark or none
	AmountUnclear   = "unclear"  // digits that are no number
	AmountTooLarge  = "too-large"
)

func (e *AmountError) Error() string { return e.err.Error() }
func (e *AmountError) Unwrap() error { return e.err }

// ParseMass reads an amount as a person writes it, with its unit: "750g",
// "0.1 g", "1,5 kg", "12mg", "2 oz". The decimal mark may be a point or a
// comma; what could be read in two ways ("1,234g", "1.234,5g") is refused.
func ParseMass(s string) (Mass, error) {
	m, err := parseMass(s)
	if err == nil {
		return m, nil
	}
	e := &AmountError{Why: AmountUnclear, err: err}
	switch {
	case errors.As(err, &e): // it says itself why
	case errors.Is(err, ErrAmbiguous):
		e.Why = AmountTwoWays
	case errors.Is(err, ErrRange):
		e.Why = AmountTooLarge
	}
	e.Amount = s
	return 0, e
}

func parseMass(s string) (Mass, error) {
	t := strings.TrimSpace(s)
	i := strings.LastIndexAny(t, "0123456789.,")
	if i < 0 {
		return 0, &AmountError{Why: AmountNoNumber, err: fmt.Errorf("amount %q: no number in it: write it as 84.6g", s)}
	}
	num, unit := strings.TrimSpace(t[:i+1]), strings.TrimSpace(t[i+1:])
	if unit == "" {
		return 0, &AmountError{Why: AmountNoUnit, err: fmt.Errorf("amount %q: no unit: write it as %sg, or with kg, mg, oz or lb", s, num)}
	}
	u, ok := LookupUnit(unit)
	places, small := smaller[unit]
	if small {
		u = UnitMilligram
	} else if !ok || !u.IsMass() {
		return 0, &AmountError{Why: AmountOtherUnit, Unit: unit, err: fmt.Errorf("amount %q: %q is not a unit of mass: use g, kg, mg, oz, lb, ct or gn", s, unit)}
	}
	d, err := ParseHumanDecimal(num)
	if err != nil {
		return 0, fmt.Errorf("amount %.40q: %w", s, err)
	}
	d.Places += places
	m, err := d.Mass(u)
	if err != nil {
		return 0, fmt.Errorf("amount %.40q: %w", s, err)
	}
	return m, nil
}

// RoundRat rounds an exact number of grams to the picogram, halves away from
// zero.
func RoundRat(g *big.Rat) (Mass, error) {
	n := new(big.Int).Mul(g.Num(), big.NewInt(int64(Gram)))
	n.Mul(n, big.NewInt(2))
	d := new(big.Int).Mul(g.Denom(), big.NewInt(2))
	if n.Sign() < 0 {
		n.Sub(n, g.Denom())
	} else {
		n.Add(n, g.Denom())
	}
	n.Quo(n, d)
	if !n.IsInt64() || n.Int64() < -int64(Most) || n.Int64() > int64(Most) {
		return 0, ErrRange
	}
	return Mass(n.Int64()), nil
}

// unitOf is a one in the last of so many decimals of a gram.
func unitOf(places int) Mass { return Mass(pow10(GramPlaces - min(places, GramPlaces))) }

func pow10(n int) int64 {
	p := int64(1)
	for ; n > 0; n-- {
		p *= 10
	}
	return p
}
