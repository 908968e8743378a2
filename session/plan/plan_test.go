package plan

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/sheet"
)

// Invented recipes.
const (
	white = "# Bath white, invented\nPotash feldspar 45\nQuartz 25\nWhiting 18\nBall clay 12\n+ Bentonite 2\n"
	blue  = "# Bath blue, invented\nQuartz 40\nPotash feldspar 35\nBall clay 25\n+ Cobalt carbonate 0.4\n"
)

var swapped = Series{Cup: "100g", Steps: 4, Swap: Swap{"Potash feldspar", "Nepheline syenite"}}

func g(s string) protocol.Mass {
	m, err := protocol.ParseMass(s + "g")
	if err != nil {
		panic(err)
	}
	return m
}

func TestSeriesRefuses(t *testing.T) {
	scales := []sheet.Scale{{Name: "fine", Step: g("0.01"), Max: g("3000")}}
	vary := []Addition{{"Rutile", "2 4"}}
	for name, c := range map[string]struct {
		r    Request
		want string
	}{
		"with a size":     {Request{Base: "100g", Series: &Series{Cup: "100g", Vary: vary}}, "leave it out"},
		"nothing varied":  {Request{Series: &Series{Cup: "100g"}}, "0 additions"},
		"no levels":       {Request{Series: &Series{Cup: "100g", Vary: []Addition{{"Rutile", " "}}}}, "no levels"},
		"negative":        {Request{Series: &Series{Cup: "100g", Vary: []Addition{{"Rutile", "-2"}}}}, "not a level"},
		"absurd":          {Request{Series: &Series{Cup: "100g", Vary: []Addition{{"Rutile", "200"}}}}, "more than the base"},
		"no cup":          {Request{Series: &Series{Vary: vary}}, "base in a cup"},
		"cup of nothing":  {Request{Series: &Series{Cup: "0g", Vary: vary}}, "more than zero"},
		"one corner":      {Request{Series: &Series{Cup: "100g", Blend: "triangle", Steps: 3, Vary: vary}}, "three corners"},
		"line of one":     {Request{Series: &Series{Cup: "100g", Blend: "line", Steps: 3, Vary: vary}}, "between two"},
		"line of one cup": {Request{Series: &Series{Cup: "100g", Blend: "line", Steps: 1, Vary: []Addition{{"Rutile", "2"}, {"Tin oxide", "3"}}}}, "1 cup"},
		"no such blend":   {Request{Series: &Series{Cup: "100g", Blend: "square", Vary: vary}}, "not a blend"},
		"twice":           {Request{Series: &Series{Cup: "100g", Vary: []Addition{{"Rutile", "2"}, {"rutile", "3"}}}}, "varied twice"},
		"in the recipe":   {Request{Series: &Series{Cup: "100g", Vary: []Addition{{"Bentonite", "2"}}}}, "varied and in the recipe"},
		"too many":        {Request{Series: &Series{Cup: "100g", Vary: []Addition{{"Rutile", "1 2 3 4 5 6 7 8"}, {"Tin oxide", "1 2 3 4 5 6 7 8"}, {"Iron oxide", "1 2 3 4"}}}}, "200 cups"},
		"dichromate":      {Request{Series: &Series{Cup: "100g", Vary: []Addition{{"Potassium dichromate", "1"}}}}, "blocked"},
		"bad spare":       {Request{Series: &Series{Cup: "100g", Spare: "lots", Vary: vary}}, "spare"},
		"with an aliquot": {Request{Aliquot: []string{"Bentonite"}, Series: &Series{Cup: "100g", Vary: vary}}, "can be weighed as it is"},
	} {
		c.r.Recipe = white
		_, err := c.r.Sheet(scales)
		assert.ErrorContains(t, err, c.want, name)
	}
}

func TestASwapIsRefused(t *testing.T) {
	scales := []sheet.Scale{{Name: "fine", Step: g("0.01"), Max: g("3000")}}
	for name, c := range map[string]struct {
		change func(*Series)
		want   string
	}{
		"not there":     {func(w *Series) { w.Swap.Out = "Talc" }, "Talc is not in the recipe. It has: Potash feldspar, Quartz"},
		"itself":        {func(w *Series) { w.Swap.In = "potash feldspar" }, "cannot take its own place"},
		"half a swap":   {func(w *Series) { w.Swap.In = "" }, "a name is missing"},
		"no steps":      {func(w *Series) { w.Steps = 0 }, "A swap in 0 steps"},
		"absurd steps":  {func(w *Series) { w.Steps = 1_000_000_000 }, "A swap in 1000000000 steps"},
		"too many cups": {func(w *Series) { w.Steps, w.Vary = 60, []Addition{{"Rutile", "1 2 3 4"}} }, "at most 200 cups"},
		"triangle":      {func(w *Series) { w.Blend = "triangle" }, "not a triangle"},
		"three more":    {func(w *Series) { w.Vary = []Addition{{"Rutile", "1"}, {"Tin oxide", "1"}, {"Zircon", "1"}} }, "Vary two at most"},
		"varied":        {func(w *Series) { w.Vary = []Addition{{"nepheline syenite", "1 2"}} }, "both varied and swapped"},
		"blocked":       {func(w *Series) { w.Swap.In = "Potassium dichromate" }, "blocked"},
		"base for top":  {func(w *Series) { w.Swap.In = "Bentonite" }, "both be additions"},
	} {
		w := swapped
		c.change(&w)
		_, err := Request{Recipe: white, Series: &w}.Sheet(scales)
		assert.ErrorContains(t, err, c.want, name)
	}
	// What no table knows may be swapped in, and its role is asked for.
	w := swapped
	w.Swap.In = "Quarry dust"
	sh, err := Request{Recipe: white, Series: &w, Moist: map[string]string{"Quarry dust": "10%"}}.Sheet(scales)
	require.NoError(t, err)
	last := sh.Cups[4].Lines[0]
	assert.True(t, last.Unknown)
	assert.Equal(t, g("50"), last.Target, "45 g dry")
}

func TestPlanWithAliquotRefuses(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	for name, c := range map[string]struct {
		r    Request
		want string
	}{
		"not in the recipe": {Request{Recipe: blue, Base: "300g", Aliquot: []string{"Tin oxide"}}, "not in the recipe"},
		"twice":             {Request{Recipe: blue, Base: "300g", Aliquot: []string{"Cobalt carbonate", "cobalt carbonate"}}, "named twice"},
		"good as it is":     {Request{Recipe: blue, Base: "30kg", Container: "100g", Aliquot: []string{"Cobalt carbonate"}}, "can be weighed as it is"},
		"base material":     {Request{Recipe: blue, Base: "10g", Aliquot: []string{"Quartz"}}, "base material"},
		"carrier too small": {Request{Recipe: blue, Base: "4g", Aliquot: []string{"Cobalt carbonate"}}, "brings more Quartz"},
	} {
		q, err := c.r.SheetRequest(scales)
		require.NoError(t, err, name)
		_, err = sheet.Plan(q)
		require.ErrorIs(t, err, sheet.ErrRefused, name)
		assert.ErrorContains(t, err, c.want, name)
	}
}

func TestWhoSaysHowMuchWater(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	const dry = "Quartz 60\nBall clay 40\n"
	for _, c := range []struct {
		name string
		wish Request
		want string // g; empty: no step
	}{
		{"nobody", Request{Recipe: dry, Base: "200g"}, ""},
		{"the recipe", Request{Recipe: dry + "Water 85%\n", Base: "200g"}, "170"},
		{"the recipe, as a mass", Request{Recipe: "Quartz 60g\nBall clay 40g\nTin oxide +5g\nWater 84g\n", Base: "200g"}, "168"},
		{"the habit", Request{Recipe: dry, Base: "200g", Habit: "90%"}, "180"},
		{"the recipe before the habit", Request{Recipe: dry + "Water 85%\n", Base: "200g", Habit: "90%"}, "170"},
		{"the wish before both", Request{Recipe: dry + "Water 85%\n", Base: "200g", Habit: "90%", Water: "100 %"}, "200"},
		{"the wish says none", Request{Recipe: dry + "Water 85%\n", Base: "200g", Habit: "90%", Water: "none"}, ""},
		// Brongniart with G = 2.5: 1 l of 1.5 holds 833.3 g dry and 666.7 g of water
		// (S. Altmann, Clayart 30 January 1998).
		{"a wet size", Request{Recipe: dry + "Water 85%\n", Wet: "1l at 1.5 solid 2.5"}, "666.666666666667"},
		{"a wish before a wet size", Request{Recipe: dry, Wet: "1l at 1.5 solid 2.5", Water: "60%"}, "500"},
	} {
		t.Run(c.name, func(t *testing.T) {
			sh, err := c.wish.Sheet(scales)
			require.NoError(t, err)
			if c.want == "" {
				assert.Nil(t, sh.Water)
				return
			}
			require.NotNil(t, sh.Water)
			assert.Equal(t, g(c.want), sh.Water.Target)
			j, err := json.Marshal(sh)
			require.NoError(t, err)
			assert.Contains(t, string(j), `"role":"water"`)
		})
	}
	for _, bad := range []string{"85", "0%", "-5%", "400%", "much", "85g", "1,234%"} {
		_, err := Request{Recipe: dry, Base: "200g", Water: bad}.Sheet(scales)
		assert.ErrorContains(t, err, "First water", bad)
		assert.Error(t, CheckWater(bad), bad)
	}
	_, err := Request{Recipe: dry, Base: "200g", Roles: map[string]string{"Quartz": "water"}}.Sheet(scales)
	assert.Error(t, err)
}

// Plain arithmetic over Brongniart's formula: three quarters of 10 l at 1.45 and 2.5
// hold 7.5·450·2.5/1.5 = 5625 g dry.
func TestBatchFromABucket(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("6000")}}
	for _, wish := range []string{"10l bucket at 1.45 solid 2.5", "7.5l at 1.45 solid 2.5", "10 l bucket @ 1.45 solid 2.5"} {
		sh, err := Request{Recipe: "Quartz 60\nWhiting 40\n", Wet: wish}.Sheet(scales)
		require.NoError(t, err, wish)
		assert.Equal(t, g("5625"), sh.Dry, wish)
		assert.Equal(t, "7.500", sh.Slip.Litres, wish)
	}
	for _, wish := range []string{"bucket at 1.45", "10l bucket", "10l barrel at 1.45"} {
		_, err := Request{Recipe: "Quartz 60\nWhiting 40\n", Wet: wish}.Sheet(scales)
		assert.ErrorContains(t, err, "10l bucket at 1.45", wish)
	}
}

func TestTheMostIsUnderstood(t *testing.T) {
	for most, why := range map[string]string{"1 kg of": "Largest batch: “1 kg of”", "0g": "leaves nothing to mix"} {
		_, err := Request{Recipe: "Quartz 1", Base: "100g", Most: most}.SheetRequest(nil)
		require.ErrorContains(t, err, why)
	}
}

// A series of 66 cups is planned.
func BenchmarkSeriesOf66(b *testing.B) {
	w := Series{Cup: "50g", Blend: "triangle", Steps: 10, Vary: []Addition{{"Rutile", "4"}, {"Tin oxide", "5"}, {"Cobalt carbonate", "1"}}}
	for b.Loop() {
		if _, err := (Request{Recipe: white, Series: &w}).Sheet([]sheet.Scale{{Name: "fine", Step: g("0.01"), Max: g("9000")}}); err != nil {
			b.Fatal(err)
		}
	}
}
