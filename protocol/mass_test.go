package protocol

import (
	"encoding/json"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A thousandth of every unit is a whole number of picograms, and the size of each unit
// is the published one.
func TestUnitsAreExact(t *testing.T) {
	for _, c := range []struct {
		one    Unit
		grams  string
		source string
	}{
		{UnitGram, "1", "the gram"},
		{UnitKilogram, "1000", "BIPM, The International System of Units, 9th edition"},
		{UnitMilligram, "0.001", "BIPM, as above"},
		{UnitTonne, "1000000", "BIPM, as above, Table 8"},
		{UnitPound, "453.59237", "UK Weights and Measures Act 1985, Schedule 1 Part V"},
		{UnitOunce, "28.349523125", "1/16 lb, as above"},
		{UnitTroyOunce, "31.1034768", "480 grains, as above"},
		{UnitGrain, "0.06479891", "1/7000 lb: NIST SP 811 Appendix B"},
		{UnitPennyweight, "1.55517384", "24 grains: NIST SP 811 Appendix B"},
		{UnitCarat, "0.2", "NIST SP 811 Appendix B"},
	} {
		one, err := Decimal{Coef: 1}.Mass(c.one)
		require.NoError(t, err)
		assert.Equal(t, c.grams, one.Grams(0), "%s: %s", c.one, c.source)
		step, err := Decimal{Coef: 1, Places: 3}.Mass(c.one)
		require.NoError(t, err, "%s: a thousandth", c.one)
		assert.Equal(t, one, 1000*step)
	}
}

// What no picogram hits is rounded to the nearest one.
func TestNearest(t *testing.T) {
	for _, c := range []struct {
		digits string
		unit   Unit
		want   Mass
		exact  bool
	}{
		{"123.45", UnitGram, 123_450_000_000_000, true},
		{"-0.1", UnitOunce, -2_834_952_312_500, true}, // 28.349523125 g / 10, UK Weights and Measures Act 1985
		{"0.0003", UnitOunce, 8_504_856_938, false},   // 8504856937.5
		{"-0.0003", UnitOunce, -8_504_856_938, false},
		{"0.02", UnitGrain, 1_295_978_200, true}, // 0.06479891 g / 50, NIST SP 811
	} {
		d, err := ParseDecimal(c.digits)
		require.NoError(t, err)
		got, err := d.Nearest(c.unit)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, c.digits)
		if got, err = d.Mass(c.unit); c.exact {
			assert.Equal(t, c.want, got, c.digits)
		} else {
			assert.ErrorIs(t, err, ErrRange, c.digits)
		}
	}
	_, err := Decimal{Coef: 1 << 60}.Nearest(UnitTonne)
	assert.ErrorIs(t, err, ErrRange)
}

// BIPM, The International System of Units, 9th ed., 2019, Table 7: micro and nano.
func TestParseMassTakesLessThanAMilligram(t *testing.T) {
	for in, want := range map[string]Mass{"1ng": Nanogram, "1 ng": Nanogram, "0.001ng": 1, "1500ng": 1500 * Nanogram, "1µg": Microgram, "1μg": Microgram, "2,5ug": 2500 * Nanogram} {
		got, err := ParseMass(in)
		require.NoError(t, err, in)
		assert.Equal(t, want, got, in)
	}
	for _, bad := range []string{"1Ng", "1NG", "0.0001ng", "ng", "1pg"} {
		_, err := ParseMass(bad)
		assert.Error(t, err, bad)
	}
	_, err := ParseMass("0.000000000000001ng")
	assert.ErrorIs(t, err, ErrRange)
}

// The limits that the error names are the limits.
func TestNamedLimitsHold(t *testing.T) {
	assert.Contains(t, ErrRange.Error(), "0.000000000001 g to 9223 kg")
	for _, ok := range []string{"9223kg", "9.223t", "-9223kg", "0.000000000001g"} {
		_, err := ParseMass(ok)
		assert.NoError(t, err, ok)
	}
	for _, bad := range []string{"9223.000000000000001kg", "9224kg", "-9224kg", "10t", "0.0000000000001g"} {
		_, err := ParseMass(bad)
		assert.ErrorIs(t, err, ErrRange, bad)
	}
	for _, g := range []int64{9_223_001, -9_223_001} {
		_, err := RoundRat(big.NewRat(g, 1))
		assert.ErrorIs(t, err, ErrRange, g)
	}
	for _, g := range []int64{9_223_000, -9_223_000} {
		m, err := RoundRat(big.NewRat(g, 1))
		require.NoError(t, err)
		assert.Equal(t, Most, m.Abs())
	}
}

func anyMass(t *rapid.T, name string) Mass {
	return Mass(rapid.OneOf(rapid.Int64Range(-int64(Most), int64(Most)), rapid.Int64Range(-3000, 3000)).Draw(t, name))
}

// Against fractions without end: no product, quotient or rounding goes astray at
// either end of the range.
func TestArithmeticNeverWraps(t *testing.T) {
	bound := func(n *big.Int) Mass {
		if most := big.NewInt(int64(Most)); n.CmpAbs(most) > 0 {
			return Mass(n.Sign()) * Most
		}
		return Mass(n.Int64())
	}
	rapid.Check(t, func(t *rapid.T) {
		m, n, d := anyMass(t, "m"), anyMass(t, "n"), anyMass(t, "d")
		if d != 0 {
			x := new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(int64(n)))
			assert.Equal(t, bound(x.Quo(x, big.NewInt(int64(d)))), m.Times(n, d))
		}
		unit := Mass(pow10(rapid.IntRange(0, 15).Draw(t, "unit")))
		up := m.Up(unit)
		assert.GreaterOrEqual(t, up.Abs(), m.Abs())
		assert.True(t, up%unit == 0 && (up-m).Abs() < unit || up.Abs() == Most)
		round := m.Round(unit)
		assert.Zero(t, round%unit)
		assert.LessOrEqual(t, 2*(round-m).Abs(), unit)
	})
}

// What is written is read again, whatever it was.
func TestMassComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyMass(t, "m")
		b, err := json.Marshal(m)
		require.NoError(t, err)
		var back Mass
		require.NoError(t, json.Unmarshal(b, &back))
		assert.Equal(t, m, back)
		again, err := ParseMass(m.String())
		require.NoError(t, err)
		assert.Equal(t, m, again)
		places := rapid.IntRange(0, 12).Draw(t, "places")
		assert.Equal(t, m.Abs().Rat().FloatString(places), strings.TrimPrefix(m.Rounded(places), "-"))
	})
}
