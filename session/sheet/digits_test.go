package sheet

import (
	"fmt"
	"math/big"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
)

func decimals(s string) int { _, rest, _ := strings.Cut(s, "."); return len(rest) }

// figures that a sentence holds a doubt by: U, whether it is within, and the limit.
var contrast = regexp.MustCompile(`uncertainty ±(\S+) g, (within|still beyond) the limit of ±(\S+) g`)

var sized = regexp.MustCompile(`^(\S+) g of base with \S+ % of additions is (\S+) g dry`)

// Whatever is planned on whatever scales: no figure has a digit that its doubt does not
// support, what is contrasted is told apart, a target is shown to within what is allowed,
// and no mark is shown that no reading reaches.
func TestASheetHasNoIdleDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := protocol.Mass(rapid.Int64Range(1, 5e6).Draw(t, "size")) * protocol.Milligram
		step := protocol.Mass(rapid.SampledFrom([]int64{1e9, 1e10, 1e11, 5e11, 1e12, 2e12}).Draw(t, "step"))
		share := big.NewRat(rapid.Int64Range(1, 500).Draw(t, "share"), 100)
		first := rapid.Int64Range(1, 99).Draw(t, "first")
		rec := parse(t, fmt.Sprintf("Quartz %d\nWhiting %d\n+ Cobalt carbonate %s\n", first, 100-first, share.FloatString(2)))
		sh, err := Plan(Request{Recipe: rec, Size: Size{Base: size}, Scales: []Scale{{Name: "bench", Step: step, Max: 30 * protocol.Kilogram}}})
		if err != nil {
			return // it cannot be weighed at all
		}
		var us []protocol.Mass
		for _, l := range sh.Lines {
			us = append(us, l.U)
			require.LessOrEqual(t, (mass(l.Exact()+"g") - l.Target).Abs(), max(l.Allowed, step/2), "%s for %s", l.Exact(), l.Target)
			if (l.Target.Round(step) - l.Target).Abs() > l.Allowed {
				require.LessOrEqual(t, (mass(l.Exact()+"g") - l.Target).Abs(), l.Allowed, "%s for %s", l.Exact(), l.Target)
			} else {
				require.LessOrEqual(t, decimals(l.Exact()), step.Places())
			}
			for _, shown := range []string{l.Lowest(), l.Highest()} {
				m := mass(shown + "g")
				near := (m - l.Target).Abs() <= l.Allowed+l.Allowed/10
				require.True(t, near || m%step == 0 && l.Low <= m && m <= l.High, "%s of %s ± %s, %s to %s by %s", shown, l.Target, l.Allowed, l.Low, l.High, step)
			}
			for _, o := range l.Outs {
				got := contrast.FindStringSubmatch(o.Words)
				require.NotNil(t, got, o.Words)
				u, limit := mass(got[1]+"g"), mass(got[3]+"g")
				require.Equal(t, got[2] == "within", u <= limit, o.Words)
				require.GreaterOrEqual(t, u, o.U, "a doubt is never told as less")
				if more := decimals(got[1]) - o.U.Digits(); more > 0 {
					unit := protocol.Gram
					for range decimals(got[1]) - 1 {
						unit /= 10
					}
					near := (o.U - limit).Abs() <= 2*unit
					require.True(t, near, "%s has a digit more than shows which is more", o.Words)
				}
			}
		}
		all := doubt.Together(us...)
		got := sized.FindStringSubmatch(sh.Words[0])
		require.NotNil(t, got, sh.Words[0])
		if sh.Base != sh.Dry {
			require.NotEqual(t, mass(got[1]+"g"), mass(got[2]+"g"), sh.Words[0])
		}
		for i, m := range []protocol.Mass{sh.Base, sh.Dry} {
			if sh.Base.Rounded(decimals(got[1+i])-1) != sh.Dry.Rounded(decimals(got[1+i])-1) {
				require.LessOrEqual(t, decimals(got[1+i]), all.Digits(), sh.Words[0])
			}
			shown := strings.TrimSuffix(sh.Sized(m), " g")
			require.LessOrEqual(t, decimals(shown), all.Digits())
			require.LessOrEqual(t, (mass(shown+"g") - m).Abs(), max(all, protocol.Gram), "and no digit too few")
		}
	})
}

// A strong colourant that the scale cannot show is told with its own figures.
func TestATargetUnderTheStepIsShownExactly(t *testing.T) {
	rec := parse(t, "Quartz 60\nWhiting 40\n+ Cobalt carbonate 0.25\n")
	sh, err := Plan(Request{Recipe: rec, Size: Size{Base: mass("100g")}, Scales: []Scale{{Name: "k", Step: mass("1g"), Max: mass("2000g")}}})
	require.NoError(t, err)
	l := sh.Lines[2]
	require.Equal(t, "0.25, from 0.245 to 0.255", l.Exact()+", from "+l.Lowest()+" to "+l.Highest())
}
