package book

import (
	"math/big"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/doubt"
	"tared/session/fact"
)

// Amount is a mass with the number of decimals that its scale shows. It is
// written to JSON in full as {"g":"84.60"}, and shown to people rounded.
type Amount struct {
	protocol.Mass
	Places int
}

// MarshalJSON writes {"g":"84.60"}: at least Places decimals, none dropped.
func (a Amount) MarshalJSON() ([]byte, error) {
	return []byte(`{"g":"` + a.Grams(a.Places) + `"}`), nil
}

// UnmarshalJSON reads what MarshalJSON writes.
func (a *Amount) UnmarshalJSON(b []byte) error {
	if err := a.Mass.UnmarshalJSON(b); err != nil {
		return err
	}
	a.Places = 0
	if _, frac, ok := strings.Cut(string(b), "."); ok {
		a.Places = strings.IndexByte(frac, '"')
	}
	return nil
}

// String gives the grams without a unit, rounded to what the scale shows, halves
// away from zero.
func (a Amount) String() string { return a.Rounded(a.Places) }

// Signed is String with a plus before what is more than nothing.
func (a Amount) Signed() string { return signed(a.String()) }

// signed puts a plus before a decimal above zero, and takes the minus from one
// that was rounded to zero.
func signed(s string) string {
	zero := strings.Trim(s, "-0.") == ""
	switch {
	case zero:
		return strings.TrimPrefix(s, "-")
	case strings.HasPrefix(s, "-"):
		return s
	}
	return "+" + s
}

// rootUp is the square root in whole units, rounded up so that an uncertainty
// is never understated.
func rootUp(n *big.Int) *big.Int {
	if n.Sign() <= 0 {
		return new(big.Int)
	}
	r := new(big.Int).Sqrt(n)
	if new(big.Int).Mul(r, r).Cmp(n) < 0 {
		r.Add(r, big.NewInt(1))
	}
	return r
}

// typedU is U of a net weight of which only the last digit is known: that of a scale with
// such a step, of which nothing else is known.
// A weight of the bench brings its own.
func typedU(t fact.Typed) protocol.Mass {
	if t.U > 0 {
		return t.U
	}
	return doubt.Scale{Step: t.Step}.U(t.Mass)
}

// percentText writes a planned share, an exact fraction, for people: in full
// where it ends within three decimals, else rounded to three.
func percentText(share string) string {
	r, ok := new(big.Rat).SetString(share)
	if !ok {
		return share
	}
	t := r.FloatString(batch.SharePlaces)
	return strings.TrimSuffix(strings.TrimRight(t, "0"), ".")
}

func count(all []string, s string) (k int) {
	for _, v := range all {
		if v == s {
			k++
		}
	}
	return k
}
