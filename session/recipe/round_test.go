package recipe

import (
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func rats(s string) []*big.Rat {
	var rs []*big.Rat
	for f := range strings.FieldsSeq(s) {
		rs = append(rs, rat(f))
	}
	return rs
}

func decimals(t *testing.T, s string, places int) string {
	ds, err := LargestRemainder(rats(s), places)
	require.NoError(t, err)
	var out []string
	for _, d := range ds {
		out = append(out, d.String())
	}
	return strings.Join(out, " ")
}

func TestLargestRemainder(t *testing.T) {
	for _, c := range []struct {
		in     string
		places int
		want   string
		source string
	}{
		{"30 25 20 30 10", 2, "26.09 21.74 17.39 26.09 8.69", "community.ceramicartsdaily.org topic 5845"},
		{"40 30 20 10", 2, "40.00 30.00 20.00 10.00", "suemcleodceramics.com, normalize"},
		{"40 30 20 10", 0, "40 30 20 10", "same"},
		{"1 1 1", 0, "34 33 33", "derived: 33.3 each, one spare to the first"},
		{"1 1 1", 3, "33.334 33.333 33.333", "derived"},
		{"1 0 1", 1, "50.0 0.0 50.0", "derived"},
	} {
		assert.Equal(t, c.want, decimals(t, c.in, c.places), c.source)
	}
}

// Plain rounding of the published row gives a sum of 100.01, the fault that
// LargestRemainder is there to prevent.
func TestPlainRoundingIsNotUsed(t *testing.T) {
	shares := rats("30 25 20 30 10")
	sum := new(big.Rat)
	for _, s := range shares {
		s = new(big.Rat).Mul(s, big.NewRat(100, 115))
		sum.Add(sum, rat(s.FloatString(2)))
	}
	require.Equal(t, "100.01", sum.FloatString(2), "plain rounding is wrong here")
	assert.NotContains(t, decimals(t, "30 25 20 30 10", 2), "8.70")
}

func TestApportionRefuses(t *testing.T) {
	for _, c := range []string{"", "0 0", "1 -1"} {
		_, err := Apportion(10, rats(c))
		assert.ErrorIs(t, err, ErrShares, c)
	}
	_, err := LargestRemainder(rats("1"), 16)
	assert.Error(t, err)
	_, err = Apportion(-1, rats("1"))
	assert.ErrorIs(t, err, ErrShares)
}

func TestApportionAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := rapid.Int64Range(0, 1<<62).Draw(t, "total")
		var shares []*big.Rat
		sum := new(big.Rat)
		for range rapid.IntRange(1, 12).Draw(t, "n") {
			s := big.NewRat(rapid.Int64Range(1, 1e6).Draw(t, "num"), rapid.Int64Range(1, 1e4).Draw(t, "den"))
			shares = append(shares, s)
			sum.Add(sum, s)
		}
		parts, err := Apportion(total, shares)
		require.NoError(t, err)
		var got int64
		for i, p := range parts {
			got += p
			exact := new(big.Rat).Quo(shares[i], sum)
			exact.Mul(exact, new(big.Rat).SetInt64(total))
			off := exact.Sub(exact, new(big.Rat).SetInt64(p))
			assert.Negative(t, off.Abs(off).Cmp(big.NewRat(1, 1)), "off by a whole unit")
		}
		assert.Equal(t, total, got)
	})
}
