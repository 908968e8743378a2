package protocol

import (
	"errors"
	"fmt"
	"math/big"
	"math/bits"
	"strings"
)

// Decimal is a number exactly as it was shown: sign, digits, and how many of
// them stand behind the point. "-0.00" and "12.50" keep their sign and their
// zeros, for the zeros carry the step of the scale. The zero value is "0".
type Decimal struct {
	Coef   uint64 // the digits without the point
	Places uint8  // digits behind the point
	Neg    bool   // a minus sign was shown, also before a zero
}

// maxPlaces is how many digits behind the point a Decimal can be read with: a power
// of ten for more does not fit beside its digits.
const maxPlaces = 18

// maxHumanDigits is the longest number that a person types: whoever types more leant
// on a key.
const maxHumanDigits = 30

// ErrNumber is in the chain of every error about digits that cannot be read.
var ErrNumber = errors.New("not a number")

// ErrAmbiguous is in the chain where a number can be read in two ways.
var ErrAmbiguous = fmt.Errorf("%w: the comma before three digits can be read in two ways", ErrNumber)

// String writes the digits without padding: one digit at least before the
// point, trailing zeros kept.
func (d Decimal) String() string { return string(d.Append(make([]byte, 0, 24))) }

// Append adds the text of d to b and returns the longer slice.
func (d Decimal) Append(b []byte) []byte {
	if d.Neg {
		b = append(b, '-')
	}
	var buf [24]byte
	i, c := len(buf), d.Coef
	for n := 0; c > 0 || n <= int(d.Places); n++ {
		if n == int(d.Places) && n > 0 {
			i--
			buf[i] = '.'
		}
		i--
		buf[i] = byte('0' + c%10)
		c /= 10
	}
	return append(b, buf[i:]...)
}

// Mass converts the digits in unit u to picograms. It fails when u is no mass,
// when the amount is out of range, and when it is not a whole number of
// picograms.
func (d Decimal) Mass(u Unit) (Mass, error) {
	per := u.Picograms()
	if per == 0 {
		if u == UnitNone {
			return 0, fmt.Errorf("%s has no unit", d)
		}
		return 0, fmt.Errorf("%s %s is not a mass", d, u)
	}
	hi, lo := bits.Mul64(d.Coef, uint64(per))
	if d.Places > maxPlaces {
		return 0, ErrRange
	}
	p := uint64(pow10(int(d.Places)))
	if hi >= p {
		return 0, ErrRange
	}
	q, r := bits.Div64(hi, lo, p)
	if r != 0 || q > uint64(Most) {
		return 0, ErrRange
	}
	if d.Neg {
		return -Mass(q), nil
	}
	return Mass(q), nil
}

// Nearest is Mass, rounded to the nearest picogram, halves away from zero, where the
// amount is no whole number of them, such as 0.0003 oz (8504856937.5).
func (d Decimal) Nearest(u Unit) (Mass, error) {
	m, err := d.Mass(u)
	if !errors.Is(err, ErrRange) {
		return m, err
	}
	n := new(big.Int).Mul(new(big.Int).SetUint64(d.Coef), big.NewInt(u.Picograms()))
	if d.Neg {
		n.Neg(n)
	}
	per := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.Places)), nil)
	return RoundRat(new(big.Rat).SetFrac(n, per.Mul(per, big.NewInt(int64(Gram)))))
}

// Step gives the size of one unit in the last place shown.
func (d Decimal) Step(u Unit) (Mass, error) {
	return Decimal{Coef: 1, Places: d.Places}.Mass(u)
}

// ParseDecimal reads digits with a decimal point, an optional sign, and nothing
// else.
func ParseDecimal(s string) (Decimal, error) {
	d, ok := ParseDigits([]byte(s))
	if !ok {
		return Decimal{}, fmt.Errorf("%q: %w: write digits with a decimal point, for example 12.50", s, ErrNumber)
	}
	return d, nil
}

// ParseDigits is ParseDecimal on bytes, without allocating: an optional sign,
// then digits with at most one point that has a digit on at least one side.
func ParseDigits(b []byte) (d Decimal, ok bool) {
	if len(b) > 0 && (b[0] == '+' || b[0] == '-') {
		d.Neg = b[0] == '-'
		b = b[1:]
	}
	digits, point := 0, false
	for _, c := range b {
		switch {
		case c == '.':
			if point {
				return Decimal{}, false
			}
			point = true
		case c >= '0' && c <= '9':
			if d.Coef > (1<<64-1-9)/10 {
				return Decimal{}, false
			}
			d.Coef = d.Coef*10 + uint64(c-'0')
			digits++
			if point {
				if d.Places == maxPlaces {
					return Decimal{}, false
				}
				d.Places++
			}
		default:
			return Decimal{}, false
		}
	}
	return d, digits > 0
}

// ParseHumanDecimal reads a number as a person types it: the mark may be a
// point or a comma. It refuses what can be read in two ways: both marks, a mark
// twice, and a comma before exactly three digits unless the number starts with
// a zero ("1,234" may be 1.234 or 1234; "0,125" can only be 0.125).
func ParseHumanDecimal(s string) (Decimal, error) {
	t := strings.TrimSpace(s)
	if len(t) > maxHumanDigits {
		return Decimal{}, fmt.Errorf("%.12q…: %w: it has more than %d signs", t, ErrNumber, maxHumanDigits)
	}
	commas, points := strings.Count(t, ","), strings.Count(t, ".")
	switch {
	case commas+points > 1:
		return Decimal{}, fmt.Errorf("%q: %w: it has more than one decimal mark; write it with one point and no thousands marks", s, ErrNumber)
	case commas == 1:
		i := strings.IndexByte(t, ',')
		whole := strings.TrimLeft(t[:i], "+-")
		if len(t)-i-1 == 3 && whole != "0" && whole != "" {
			return Decimal{}, fmt.Errorf("%q: %w; write %s or %s", s, ErrAmbiguous,
				strings.Replace(t, ",", ".", 1), strings.Replace(t, ",", "", 1))
		}
		t = strings.Replace(t, ",", ".", 1)
	}
	d, ok := ParseDigits([]byte(t))
	if !ok {
		return Decimal{}, fmt.Errorf("%q: %w: write digits, for example 12.5 or 12,5", s, ErrNumber)
	}
	return d, nil
}
