package protocol

import "math/big"

// TwoDigits is an uncertainty with two digits that count, rounded up so that none is
// understated.
func (m Mass) TwoDigits() Mass {
	v, unit := m.Abs(), Mass(1)
	for v/unit >= 100 {
		unit *= 10
	}
	return v.Up(unit)
}

// Doubt writes TwoDigits in grams: 0.129099445 g is "0.13".
func (m Mass) Doubt() string { return m.TwoDigits().Grams(0) }

// Digits gives how many decimals a figure may show that is known to within m: none beyond
// the second digit of m that counts (JCGM 100:2008, 7.2.6). It serves masses in grams,
// and shares in percent written as masses; 0 says nothing, and leaves all.
func (m Mass) Digits() int {
	if m == 0 {
		return GramPlaces
	}
	n := GramPlaces
	for v := m.Abs(); v >= 100 && n > 0; v /= 10 {
		n--
	}
	return n
}

// DigitsOf is Digits of a ratio: of factor times a mass that is known to within m, held
// against another.
func (m Mass) DigitsOf(against Mass, factor int64) int {
	if against <= 0 {
		return GramPlaces
	}
	r := new(big.Rat).Mul(big.NewRat(int64(m), int64(against)), big.NewRat(factor, 1))
	u, err := RoundRat(r)
	if err != nil {
		return 0
	}
	return u.Digits()
}

// PlacesTo gives the fewest decimals, from least on, with which a mass is shown to within so
// much.
func (m Mass) PlacesTo(within Mass, least int) int {
	unit := Gram
	for range least {
		unit /= 10
	}
	for n := least; n < GramPlaces; n++ {
		if r := m.Abs() % unit; min(r, unit-r) <= within {
			return n
		}
		unit /= 10
	}
	return GramPlaces
}

// Known writes the mass in grams with no digit that a doubt of u does not support, and no
// idle zero.
func (m Mass) Known(u Mass) string { return m.Rounded(min(u.Digits(), m.Places())) }

// Size gives how many decimals a planned size of m is shown with whose parts are weighed to
// within u together: none beyond the first digit of u, for nothing of it is weighed yet.
// Where u is not known, a tenth of a gram is enough.
func (m Mass) Size(u Mass) int {
	if u == 0 {
		u = Gram / 10
	}
	return max(min(u.Digits()-1, m.Places()), 0)
}

// Apart gives the fewest decimals, from places on, that show which of two masses is more;
// where they are the same, places.
func Apart(a, b Mass, places int) int {
	for a != b && places < GramPlaces && a.Rounded(places) == b.Rounded(places) {
		places++
	}
	return places
}

// Against writes a doubt and the limit that it is held against in grams, each with two
// digits that count; with more where those would not show whether it is within.
func (m Mass) Against(limit Mass) (doubt, most string) {
	a, b := m.Digits(), limit.Digits()
	for more := 0; ; more++ {
		u, l := m.Up(unitOf(a+more)), limit.Round(unitOf(b+more))
		if (u <= l) == (m <= limit) || more == GramPlaces {
			return u.Grams(0), l.Grams(0)
		}
	}
}
