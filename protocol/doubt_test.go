package protocol

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// A doubt beside its limit reads as it is: never as less than it is, and within where it
// is within.
func TestADoubtReadsAsItIs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := Mass(rapid.Int64Range(0, 1e15).Draw(t, "u"))
		limit := u + Mass(rapid.Int64Range(-1e12, 1e12).Draw(t, "by"))
		if limit < 0 {
			return
		}
		is, may := u.Against(limit)
		a, err := ParseMass(is + "g")
		require.NoError(t, err)
		b, err := ParseMass(may + "g")
		require.NoError(t, err)
		require.GreaterOrEqual(t, a, u)
		require.Equal(t, u <= limit, a <= b, "%s against %s: %s, %s", u, limit, is, may)
		if p := Apart(u, limit, 0); u != limit {
			require.NotEqual(t, u.Rounded(p), limit.Rounded(p))
		}
		if size := u.Size(limit); limit > 0 {
			require.True(t, size == 0 || size < limit.Digits())
		}
	})
}
