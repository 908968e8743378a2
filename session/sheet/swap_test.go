package sheet

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/recipe"
)

// An invented recipe.
const bathWhite = "# Bath white, invented\nPotash feldspar 45\nQuartz 25\nWhiting 18\nBall clay 12\n+ Bentonite 2\n"

func swapSeries(t require.TestingT, text string, swap Swap, steps int, others ...Variation) SeriesRequest {
	cups, err := SwapSeries(steps, others)
	require.NoError(t, err)
	rec, err := recipe.Parse(text)
	require.NoError(t, err)
	return SeriesRequest{Request: Request{Recipe: rec, Scales: []Scale{bench, fine}}, Cup: mass("100g"), Spare: rat("0.05"), Cups: cups, Swap: swap}
}

func told(lines []Line) string {
	var all []string
	for _, l := range lines {
		plus := ""
		if l.Addition {
			plus = "+ "
		}
		all = append(all, plus+l.Material+" "+l.Percent+" % "+l.Target.Grams(0))
	}
	return strings.Join(all, ", ")
}

// All figures are derived by hand from the recipe.
func TestPlanASwap(t *testing.T) {
	for name, c := range map[string]struct {
		req       SeriesRequest
		tub, take string
		cups      []string
		percent   string
	}{
		"one of the base": {swapSeries(t, bathWhite, Swap{"potash feldspar", "Nepheline syenite"}, 4),
			"Quartz 45.455 % 131.25, Whiting 32.727 % 94.5, Ball clay 21.818 % 63, + Bentonite 3.636 % 10.5", "57",
			[]string{
				"1: Potash feldspar 45 % 45",
				"2: Potash feldspar 33.75 % 33.75, Nepheline syenite 11.25 % 11.25",
				"3: Potash feldspar 22.5 % 22.5, Nepheline syenite 22.5 % 22.5",
				"4: Nepheline syenite 33.75 % 33.75, Potash feldspar 11.25 % 11.25",
				"5: Nepheline syenite 45 % 45",
			}, "45"},
		"both in the recipe": {swapSeries(t, bathWhite, Swap{"Potash feldspar", "quartz"}, 1),
			"Whiting 60 % 37.8, Ball clay 40 % 25.2, + Bentonite 6.667 % 4.2", "32",
			[]string{"1: Potash feldspar 45 % 45, Quartz 25 % 25", "2: Quartz 70 % 70"}, "70"},
		"an addition": {swapSeries(t, bathWhite+"+ Tin oxide 6\n", Swap{"Tin oxide", "Zircon"}, 2),
			"Potash feldspar 45 % 141.75, Quartz 25 % 78.75, Whiting 18 % 56.7, Ball clay 12 % 37.8, + Bentonite 2 % 6.3", "102",
			[]string{"1: + Tin oxide 6 % 6", "2: + Tin oxide 3 % 3, + Zircon 3 % 3", "3: + Zircon 6 % 6"}, "6"},
		"with a strong colourant": {swapSeries(t, bathWhite, Swap{"Ball clay", "Kaolin"}, 1, Variation{Doses: []Dose{{"Copper carbonate", rat("2")}, {"Rutile", rat("3")}}}, Variation{Doses: []Dose{{"Rutile", rat("3")}}}),
			"Potash feldspar 51.136 % 189, Quartz 28.409 % 105, Whiting 20.455 % 75.6, + Bentonite 2.273 % 8.4", "90",
			[]string{
				"2: Ball clay 12 % 12, + Rutile 3 % 3",
				"4: Kaolin 12 % 12, + Rutile 3 % 3",
				"1: Ball clay 12 % 12, + Rutile 3 % 3, + Copper carbonate 2 % 2",
				"3: Kaolin 12 % 12, + Rutile 3 % 3, + Copper carbonate 2 % 2",
			}, "12"},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := PlanSeries(c.req)
			require.NoError(t, err)
			assert.Equal(t, c.tub, told(s.Common.Lines))
			var got []string
			for _, cup := range s.Cups {
				assert.Equal(t, c.take, cup.Take.Target.Grams(0), "the same of the mix for each")
				got = append(got, cup.Mark+": "+told(cup.Lines))
			}
			assert.Equal(t, c.cups, got)
			require.NotNil(t, s.Swap)
			assert.Equal(t, c.percent, s.Swap.Percent)
			assert.Contains(t, strings.Join(s.Words, " "), "together they stay at "+c.percent+" % of the base")
			for _, w := range s.Words {
				assert.NotContains(t, w, commonName()+" is not in the materials table")
			}
		})
	}
}

// A swap is weight for weight, and says where that is not like for like: 100.086 g of CaCO3
// leave 56.077 g (standard atomic weights of IUPAC, 2021), and wollastonite loses nothing.
func TestASwapSaysWhatTheFireLeaves(t *testing.T) {
	for in, says := range map[string]string{"Wollastonite": "Fired, 0.560 g ± 0.001 g of Wollastonite leaves as much as one gram of Whiting: Whiting loses 44.0 % on ignition", "Whiting powder": ""} {
		s, err := PlanSeries(swapSeries(t, bathWhite, Swap{"Whiting", in}, 2))
		require.NoError(t, err)
		if all := strings.Join(s.Words, " "); says == "" {
			assert.NotContains(t, all, "Weight for weight", in)
		} else {
			assert.Contains(t, all, says)
		}
	}
}

// What a scale cannot weigh in a cup is told with its ways out, as for additions;
// what no table knows is asked for; what is blocked stops the plan.
func TestASwapIsJudged(t *testing.T) {
	req := swapSeries(t, bathWhite, Swap{"Ball clay", "Cliff clay"}, 10)
	req.Scales = []Scale{bench}
	s, err := PlanSeries(req)
	require.NoError(t, err)
	l := s.Cups[1].Lines[1]
	require.Equal(t, "Cliff clay", l.Material)
	assert.Equal(t, mass("1.2g"), l.Target)
	assert.Equal(t, Blind, l.Verdict, "0.012 g allowed, and steps of 0.1 g")
	assert.NotEmpty(t, l.Outs)
	assert.True(t, l.Unknown)
	assert.Equal(t, Base, l.Role)
	assert.Contains(t, strings.Join(s.Words, "\n"), "Cliff clay is not in the materials table and counts as a base material")

	req.Roles = map[string]Role{"cliff clay": Strong}
	s, err = PlanSeries(req)
	require.NoError(t, err)
	assert.Equal(t, Strong, s.Cups[1].Lines[1].Role)

	_, err = PlanSeries(swapSeries(t, bathWhite, Swap{"Ball clay", "Potassium dichromate"}, 2))
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "Potassium dichromate is blocked")
}

func TestASwapIsRefused(t *testing.T) {
	for _, steps := range []int{0, -3, 200, 1 << 40} {
		_, err := SwapSeries(steps, nil)
		require.ErrorIs(t, err, ErrRefused)
		assert.ErrorContains(t, err, fmt.Sprintf("A swap in %d steps", steps))
	}
	_, err := SwapSeries(99, make([]Variation, 3))
	require.ErrorIs(t, err, ErrRefused)
	for name, c := range map[string]struct {
		change func(*SeriesRequest)
		says   string
	}{
		"not there":     {func(r *SeriesRequest) { r.Swap.Out = "Talc" }, "Talc is not in the recipe. It has: Potash feldspar"},
		"itself":        {func(r *SeriesRequest) { r.Swap.In = "ball clay" }, "Ball clay cannot take its own place"},
		"half a name":   {func(r *SeriesRequest) { r.Swap.In = "" }, "a name is missing"},
		"common mix":    {func(r *SeriesRequest) { r.Swap.In = "Common mix" }, "another name"},
		"order":         {func(r *SeriesRequest) { r.Order = []string{"Ball clay"} }, "Ball clay is swapped, so it goes into each cup"},
		"varied":        {func(r *SeriesRequest) { r.Cups[0].Doses = []Dose{{"ball clay", rat("2")}} }, "named twice"},
		"no swap":       {func(r *SeriesRequest) { r.Swap = Swap{} }, "say which materials are swapped"},
		"too much":      {func(r *SeriesRequest) { r.Cups[0].Swapped = rat("1.5") }, "150 % of Ball clay cannot be swapped"},
		"less than all": {func(r *SeriesRequest) { r.Cups[0].Swapped = rat("-0.5") }, "Use 0 to 100 %"},
		"crumbs":        {func(r *SeriesRequest) { r.Cup = 1 }, "too small"},
	} {
		t.Run(name, func(t *testing.T) {
			r := swapSeries(t, bathWhite, Swap{"Ball clay", "Kaolin"}, 2)
			c.change(&r)
			_, err := PlanSeries(r)
			require.ErrorIs(t, err, ErrRefused)
			assert.Contains(t, err.Error(), c.says)
		})
	}
	_, err = PlanSeries(swapSeries(t, "Quartz 60\nWhiting 40\n", Swap{"Quartz", "Whiting"}, 2))
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "the whole base")
}

// What a cup gets adds up to what the recipe wants of that much base, to the
// picogram; the two of the swap stay together what they are in the recipe; and the
// tub holds what all cups take of it.
func TestASwapBalances(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := ""
		for i := range rapid.IntRange(2, 5).Draw(rt, "base") {
			text += fmt.Sprintf("Stone %c %d.%d\n", 'a'+i, rapid.IntRange(1, 90).Draw(rt, "whole"), rapid.IntRange(0, 9).Draw(rt, "tenths"))
		}
		text += fmt.Sprintf("+ Ochre %d\n", rapid.IntRange(1, 9).Draw(rt, "ochre"))
		req := swapSeries(rt, text, Swap{"Stone a", "Sand"}, rapid.IntRange(1, 12).Draw(rt, "steps"), Variation{}, Variation{Doses: []Dose{{"Rutile", rat("7")}}})
		req.Cup = protocol.Mass(rapid.Int64Range(20e12, 400e12).Draw(rt, "cup"))
		if rapid.Bool().Draw(rt, "no spare") {
			req.Spare = nil
		}
		s, err := PlanSeries(req)
		if err != nil {
			rt.Fatal(err)
		}
		pair, err := req.Recipe.Pair("Stone a", "Sand")
		if err != nil {
			rt.Fatal(err)
		}
		exact := func(percent *big.Rat) *big.Rat {
			g := new(big.Rat).Mul(big.NewRat(int64(req.Cup), 1), percent)
			return g.Quo(g, hundred)
		}
		near := func(m protocol.Mass, want *big.Rat, by int64, what string) {
			if d := new(big.Rat).Sub(big.NewRat(int64(m), 1), want); d.Abs(d).Cmp(big.NewRat(by, 1)) > 0 {
				rt.Fatalf("%s: %d pg, want %s", what, int64(m), want.FloatString(2))
			}
		}
		_, adds := req.Recipe.Shares()
		all := protocol.Mass(0)
		for _, c := range s.Cups {
			all += c.Take.Target
			both, share := protocol.Mass(0), new(big.Rat)
			for _, l := range c.Lines {
				if pair.Is(l.Material) {
					if l.Addition || l.Target <= 0 {
						rt.Fatalf("%+v", l)
					}
					both += l.Target
					share.Add(share, l.Share)
					near(l.Target, exact(l.Share), 2, l.Material)
				}
			}
			if share.Cmp(pair.Share) != 0 {
				rt.Fatalf("cup %s: both are %s %%, want %s %%", c.Mark, share, pair.Share)
			}
			near(both, exact(pair.Share), 1, "both")
			near(c.Take.Target+both, exact(new(big.Rat).Add(hundred, adds)), 1, "the whole cup")
			if c.Take.Target != s.Cups[0].Take.Target {
				rt.Fatal("a cup takes more of the mix than another")
			}
		}
		// Each target is rounded by itself: a picogram for each cup and line.
		if short := all - s.Common.Dry; short > protocol.Mass(len(s.Cups)+len(s.Common.Lines)) {
			rt.Fatalf("the cups take %s of %s", all, s.Common.Dry)
		}
		for _, l := range s.Common.Lines {
			if pair.Is(l.Material) {
				rt.Fatal("what is swapped is in the tub")
			}
		}
	})
}

func BenchmarkPlanSwap66(b *testing.B) {
	req := swapSeries(b, bathWhite, Swap{"Potash feldspar", "Nepheline syenite"}, 10, make([]Variation, 6)...)
	require.Len(b, req.Cups, 66)
	for b.Loop() {
		if _, err := PlanSeries(req); err != nil {
			b.Fatal(err)
		}
	}
}
