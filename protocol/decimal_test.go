package protocol

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Digits behind the point were once counted in a byte: 258 zeros came round to two,
// and 0.40 was read.
func TestPlacesDoNotComeRound(t *testing.T) {
	for _, n := range []int{19, 254, 256, 258, 512, 100_000} {
		s := "0." + strings.Repeat("0", n) + "40"
		_, ok := ParseDigits([]byte(s))
		assert.False(t, ok, "%d zeros", n)
		_, err := ParseHumanDecimal(s)
		require.ErrorIs(t, err, ErrNumber, "%d zeros", n)
		assert.Less(t, len(err.Error()), 120, "%d zeros: a refusal that can be shown", n)
		_, err = ParseMass(s + "g")
		require.ErrorIs(t, err, ErrNumber, "%d zeros", n)
		assert.Less(t, len(err.Error()), 200)
	}
	d, err := ParseHumanDecimal("0.000000000000000040")
	require.NoError(t, err)
	assert.Equal(t, Decimal{Coef: 40, Places: 18}, d)
	_, err = ParseHumanDecimal(strings.Repeat("0", 31))
	assert.ErrorIs(t, err, ErrNumber)
}
