package sentence

import (
	"math/big"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/fact"
)

var figure = regexp.MustCompile(`(\d+(?:\.\d+)?) g\b`)

func figures(s string) (all []string) {
	for _, m := range figure.FindAllStringSubmatch(s, -1) {
		all = append(all, m[1])
	}
	return all
}

func decimals(s string) int {
	_, frac, _ := strings.Cut(s, ".")
	return len(frac)
}

// Where a sentence says that an amount is beyond a mark, it can be seen from the figures.
func TestContrastIsSeen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		step := protocol.Mass(rapid.SampledFrom([]int64{1e6, 1e7, 1e8, 2e8, 5e8, 1e9}).Draw(t, "step"))
		in := step * protocol.Mass(rapid.Int64Range(1, 5000).Draw(t, "steps"))
		by := protocol.Mass(rapid.Int64Range(1, int64(3*step)).Draw(t, "by"))
		p := fact.Portion{Material: "Quartz", Scale: "bench", How: "tipped", Delivered: in, Target: in, Step: step, Before: 2 * in, After: in}
		for _, verdict := range []string{"over", "under"} {
			p.Verdict, p.Low, p.High = verdict, in+by, in+by+step
			if verdict == "over" {
				p.Low, p.High = max(in-by-step, 0), max(in-by, 0)
			}
			got := figures(Of(fact.Fact{Batch: "T1", Body: p}))
			require.GreaterOrEqual(t, len(got), 2)
			require.NotEqual(t, got[0], got[1], Of(fact.Fact{Batch: "T1", Body: p}))
		}
		for _, where := range []string{"tipped", "cup", "container"} {
			told := Of(fact.Fact{Batch: "T1", Body: fact.Overpoured{Material: "Quartz", Scale: "bench", Where: where, Amount: in, High: max(in-by, 0), Excess: by + step}})
			got := figures(told)
			require.GreaterOrEqual(t, len(got), 3, told)
			require.NotEqual(t, got[0], got[2], told)
		}
	})
}

// What went in by many weighings is told with no digit that the doubt in all of them
// does not support.
func TestClosingHasNoIdleDigits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var v fact.Finished
		sum := doubt.AddSquare(nil, 0)
		for range rapid.IntRange(1, 9).Draw(t, "lines") {
			m := protocol.Mass(rapid.Int64Range(0, 1e12).Draw(t, "mass"))
			u := protocol.Mass(rapid.Int64Range(1e6, 2e9).Draw(t, "u"))
			v.Lines, v.Base, v.Dry, sum = append(v.Lines, fact.Made{Material: "Quartz", Delivered: m, U: u}), v.Base+m, v.Dry+m, doubt.AddSquare(sum, u)
		}
		u := doubt.RootUp(new(big.Rat).SetInt(sum))
		unit := u.TwoDigits()
		for _, is := range figures(Of(fact.Fact{Batch: "T1", Body: v})) {
			require.LessOrEqual(t, decimals(is), u.Digits())
			m, err := protocol.ParseMass(is + "g")
			require.NoError(t, err)
			require.LessOrEqual(t, (m - v.Base).Abs(), unit, "and no digit too few")
		}
	})
}
