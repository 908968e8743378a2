package book

import (
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
)

// Beside a doubt no figure has a digit beyond the second one of the doubt that counts, and
// none is further off than that.
func TestFiguresFollowTheirDoubt(t *testing.T) {
	decimals := func(s string) int { _, frac, _ := strings.Cut(s, "."); return len(frac) }
	near := func(t *rapid.T, shown, exact, u string) {
		a, _ := new(big.Rat).SetString(strings.TrimPrefix(shown, "+"))
		b, _ := new(big.Rat).SetString(strings.TrimPrefix(exact, "+"))
		d, _ := new(big.Rat).SetString(u)
		require.LessOrEqual(t, a.Sub(a, b).Abs(a).Cmp(d), 0, "%s for %s ± %s", shown, exact, u)
	}
	rapid.Check(t, func(t *rapid.T) {
		target := protocol.Mass(rapid.Int64Range(1e7, 1e12).Draw(t, "target"))
		u := protocol.Mass(rapid.Int64Range(1e6, 1e10).Draw(t, "u"))
		off := protocol.Mass(rapid.Int64Range(-1e9, 1e9).Draw(t, "off"))
		share := big.NewRat(rapid.Int64Range(0, 1e5).Draw(t, "share"), 1000).FloatString(3)
		doubt := big.NewRat(rapid.Int64Range(1, 1e5).Draw(t, "doubt"), 1000).FloatString(3)
		l := Line{Target: Amount{target, 1}, Low: Amount{target - target/100, 1}, High: Amount{target + target/100, 1}, U: Amount{u, 1}, Share: share, ShareU: doubt,
			Percent: signed(new(big.Rat).Mul(big.NewRat(int64(off), int64(target)), big.NewRat(100, 1)).FloatString(2)), Bands: bands(off, target/50)}
		near(t, l.ShareShown(), share, doubt)
		require.LessOrEqual(t, decimals(l.ShareShown()), decimals(l.DoubtShown()), "%s ± %s", l.ShareShown(), l.DoubtShown())
		count := func(shown string, in *big.Rat, least int) {
			in.Abs(in)
			for range decimals(shown) {
				in.Mul(in, big.NewRat(10, 1))
			}
			require.True(t, decimals(shown) == 0 || in.Cmp(big.NewRat(int64(least), 1)) < 0, "%s has a digit too many", shown)
		}
		count(l.PercentShown(), new(big.Rat).Mul(big.NewRat(int64(u), int64(target)), big.NewRat(100, 1)), 100)
		count(l.BandsShown(), big.NewRat(int64(u)*2, int64(l.High.Mass-l.Low.Mass)), 100)
	})
}
