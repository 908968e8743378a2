package recipe

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWater(t *testing.T) {
	for _, c := range []struct{ text, percent, why string }{
		{text: "Quartz 60\nBall clay 40\nWater 85%", percent: "85"},
		{text: "Quartz 60\nBall clay 40\nWATER: 85 percent (for dipping)\n+ Rutile 2", percent: "85"},
		{text: "Quartz 60\nBall clay 40\n+ Rutile 2\nFirst water 0,9 %", why: "0,9 %"},
		{text: "Quartz 600g\nBall clay 400g\n+ Rutile 20g\nWater 816g", percent: "80"},
		{text: "Material,Amount,Type\nQuartz,60,base\nBall clay,40,base\nWater,85%,base\n", percent: "85"},
		{text: "Material,Grams\nQuartz,60\nBall clay,40\nWater,85\n", percent: "85"},
		{text: "Quartz 60\nBall clay 40\nWater 85", why: "ambiguous: water is not part of the hundred"},
		{text: "Quartz 60\nBall clay 40\n+ Water 85%", why: "an addition is a percentage of the base"},
		{text: "Quartz 60\nBall clay 40\nAdditions\nRutile 2\nWater 85%", why: "an addition is a percentage of the base"},
		{text: "Quartz 60\nBall clay 40\nWater 850g", why: "a mass of water beside a base in parts"},
		{text: "Quartz 60\nBall clay 40\nWater 850%", why: "the limit is 300 %"},
		{text: "Quartz 60\nBall clay 40\nWater 0%", why: "more than zero"},
		{text: "Quartz 60\nBall clay 40\nWater -5%", why: "more than zero"},
		{text: "Quartz 60\nBall clay 40\nWater 85%\nWater 90%", why: "is already on line 3"},
		{text: "Water 85%", why: "no materials"},
	} {
		r, err := Parse(c.text)
		if c.why == "0,9 %" {
			require.NoError(t, err, c.text)
			assert.Equal(t, "9/10", r.Water.Percent.String(), "it is no ratio: 0.9 %% is what stands there")
			continue
		}
		if c.why != "" {
			assert.ErrorContains(t, err, c.why, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		require.NotNil(t, r.Water, c.text)
		assert.Equal(t, c.percent, Decimal(r.Water.Percent, 6), c.text)
		for _, it := range r.Items {
			assert.NotEqual(t, "water", Key(it.Name))
		}
		again, err := Parse(r.Format())
		require.NoError(t, err, r.Format())
		require.NotNil(t, again.Water)
		assert.Zero(t, r.Water.Percent.Cmp(again.Water.Percent))
		assert.Equal(t, r.Water.Note, again.Water.Note)
		assert.Equal(t, r.Format(), again.Format())
	}
	// Names that only begin so are materials.
	r, err := Parse("Quartz 60\nWater glass 40")
	require.NoError(t, err)
	assert.Nil(t, r.Water)
	assert.Len(t, r.Items, 2)
}

func TestWaterInADiff(t *testing.T) {
	parse := func(s string) Recipe {
		r, err := Parse("Quartz 60\nBall clay 40\n" + s)
		require.NoError(t, err)
		return r
	}
	say := func(a, b string) (out []string) {
		for _, c := range Diff(parse(a), parse(b)) {
			out = append(out, c.String())
		}
		return out
	}
	assert.Empty(t, say("Water 85%", "water: 85%"))
	assert.Equal(t, []string{"Water: new, 85 % of everything dry"}, say("", "Water 85%"))
	assert.Equal(t, []string{"Water: gone, was 85 % of everything dry"}, say("Water 85%", ""))
	assert.Equal(t, []string{"Water: 85 % to 90 %"}, say("Water 85%", "Water 90%"))
}
