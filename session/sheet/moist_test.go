package sheet

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/recipe"
)

// Plain arithmetic over the definition of wet basis, w = water/total
// (kenkidryer.com, About moisture contents 1).
func TestMoistened(t *testing.T) {
	for _, c := range []struct{ dry, moisture, want string }{
		{"1kg", "3", "1.030927835kg"}, // 1000/0.97
		{"1kg", "8", "1.086956522kg"}, // 1000/0.92
		{"120g", "20", "150g"},        // the published 30 g of water in 150 g
		{"100g", "0", "100g"},
	} {
		got, err := Moistened(mass(c.dry), rat(c.moisture))
		require.NoError(t, err)
		assert.Equal(t, mass(c.want).Rounded(6), got.Rounded(6), "%s at %s %%", c.dry, c.moisture)
	}
	for _, bad := range []string{"100", "120", "-1"} {
		_, err := Moistened(mass("1kg"), rat(bad))
		assert.ErrorContains(t, err, "less than 100 %", bad)
	}
}

// What is weighed of a moist material holds what the recipe wants: exactly, or within a
// nanogram where what is weighed happens to be whole nanograms.
func TestDriedUndoesMoistened(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := protocol.Mass(rapid.Int64Range(1, 9e16).Draw(t, "mass"))
		w := big.NewRat(rapid.Int64Range(0, 9_999).Draw(t, "moisture"), 101)
		wet, err := Moistened(m, w)
		require.NoError(t, err)
		assert.Less(t, (m - Dried(wet, w)).Abs(), grain(wet))
	})
}

func moistPlan(t require.TestingT, moist map[string]*big.Rat) Sheet {
	rec, err := recipe.Parse("Quartz 60\nBall clay 40\n+ Rutile 5\n")
	require.NoError(t, err)
	s, err := Plan(Request{Recipe: rec, Size: Size{Base: mass("500g")}, Moist: moist,
		Scales: []Scale{{Name: "bench", Step: mass("0.1g"), Max: mass("2000g"), Spread: mass("0.03g")}}})
	require.NoError(t, err)
	return s
}

func TestMoistureRaisesTheTarget(t *testing.T) {
	dry := moistPlan(t, nil)
	s := moistPlan(t, map[string]*big.Rat{"ball clay": rat("5")})
	assert.Equal(t, dry.Base, s.Base, "the size is that of what is dry")
	assert.Equal(t, dry.Dry, s.Dry)
	for i, l := range s.Lines {
		if l.Material != "Ball clay" {
			assert.Equal(t, dry.Lines[i], l)
			continue
		}
		assert.Equal(t, mass("200g"), l.Dry)
		assert.Equal(t, "5", l.Moisture)
		assert.Equal(t, mass("210.526315789474g"), l.Target) // 200/0.95
		assert.Equal(t, mass("2.1g"), l.Band, "1 % of what is weighed, in whole steps")
	}
	assert.Equal(t, mass("10.526315789474g"), dry.Slip.Water-s.Slip.Water, "its water is not added twice")
	rec, _ := recipe.Parse("Quartz 60\nBall clay 40\n")
	_, err := Plan(Request{Recipe: rec, Size: Size{Base: mass("500g")}, Moist: map[string]*big.Rat{"Quartz": rat("100")},
		Scales: []Scale{{Name: "bench", Step: mass("0.1g")}}})
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "Quartz")
	assert.ErrorContains(t, err, "all water")
}

// A way out names a batch size of dry base even where the material is moist, and
// it holds.
func TestLargerOfAMoistMaterialHolds(t *testing.T) {
	rec, err := recipe.Parse("Quartz 100\n+ Copper carbonate 1.2\n")
	require.NoError(t, err)
	req := Request{Recipe: rec, Size: Size{Base: mass("100g")}, Moist: map[string]*big.Rat{"Copper carbonate": rat("20")},
		Scales: []Scale{{Name: "bench", Step: mass("0.1g"), Spread: mass("0.05g")}}}
	s, err := Plan(req)
	require.NoError(t, err)
	var base protocol.Mass
	for _, l := range s.Lines {
		for _, o := range l.Outs {
			if l.Material == "Copper carbonate" && o.Kind == "larger" {
				base = o.Base
			}
		}
	}
	require.NotZero(t, base)
	verdict := func(base protocol.Mass) (v Verdict) {
		req.Size.Base = base
		s, err := Plan(req)
		require.NoError(t, err)
		for _, l := range s.Lines {
			if l.Material == "Copper carbonate" {
				v = l.Verdict
			}
		}
		return v
	}
	assert.Equal(t, Good, verdict(base))
	assert.NotEqual(t, Good, verdict(base*9/10), "two figures more than needed at most")
}

// Each cup of a series holds the base that was asked for, however moist the tub is.
func TestMoistSeries(t *testing.T) {
	rec, err := recipe.Parse("Quartz 60\nBall clay 40\n")
	require.NoError(t, err)
	cups := grid("Rutile", []*big.Rat{rat("2"), rat("4")}, "Tin oxide", []*big.Rat{rat("1")})
	s, err := PlanSeries(SeriesRequest{Cup: mass("100g"), Cups: cups, Request: Request{Recipe: rec,
		Moist:  map[string]*big.Rat{"Ball clay": rat("10"), "Rutile": rat("50")},
		Scales: []Scale{{Name: "bench", Step: mass("0.1g"), Max: mass("2000g")}}}})
	require.NoError(t, err)
	var wet, dry protocol.Mass
	for _, l := range s.Common.Lines {
		wet += l.Target
		if dry += l.Target; l.Moisture != "" {
			dry += l.Dry - l.Target
		}
	}
	assert.Equal(t, mass("200g"), dry)
	for _, c := range s.Cups {
		held := new(big.Rat).Mul(c.Take.Target.Rat(), big.NewRat(int64(dry), int64(wet)))
		assert.Equal(t, "100.0000", held.FloatString(4))
		for _, l := range c.Lines {
			if l.Material == "Rutile" {
				want := new(big.Rat).Mul(l.Share, big.NewRat(2, 1)) // at 50 % moisture twice as much is weighed
				assert.Equal(t, want.FloatString(4), l.Target.Rat().FloatString(4))
			}
		}
	}
}
