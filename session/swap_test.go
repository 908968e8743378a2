package session

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/plan"
	"tared/session/recipe"
	"tared/session/sheet"
)

var feldspars = plan.Series{Cup: "100g", Steps: 4, Swap: plan.Swap{Out: "Potash feldspar", In: "Nepheline syenite"}}

// A whole series in which one feldspar takes the place of another, weighed by
// scripted hands and read back from the book.
func TestASwapOnTheBench(t *testing.T) {
	r := seriesRig(t, feldspars)
	assert.Equal(t, uint64(5), r.s.Batch.Plan.Series.Cups)
	var tub []string
	for r.s.Batch.Mark == "260302a" {
		p := r.onTarget()
		tub = append(tub, p.Material+" "+p.Delivered.Grams(2))
	}
	// Derived: 55 % of five cups of 100 g, and 5 % to spare.
	assert.Equal(t, []string{"Quartz 131.25", "Whiting 94.50", "Ball clay 63.00", "Bentonite 10.50"}, tub)
	r.must("yes")
	var cups []string
	for cup := 1; cup <= 5; cup++ {
		mark := fmt.Sprintf("260302a-%d", cup)
		require.Equal(t, mark, r.s.Batch.Mark)
		assert.Equal(t, g("100"), r.s.Batch.Plan.Base)
		assert.Equal(t, g("102"), r.s.Batch.Plan.Dry)
		if cup == 3 {
			r.restart()
			require.Equal(t, mark, r.s.Batch.Mark)
		}
		var in []string
		for r.s.Batch.Mark == mark && !r.s.Batch.Finished {
			p := r.onTarget()
			in = append(in, p.Material+" "+p.Delivered.Grams(2))
		}
		cups = append(cups, strings.Join(in, ", "))
	}
	assert.Equal(t, []string{
		"common mix of 260302a 57.00, Potash feldspar 45.00",
		"common mix of 260302a 57.00, Potash feldspar 33.75, Nepheline syenite 11.25",
		"common mix of 260302a 57.00, Potash feldspar 22.50, Nepheline syenite 22.50",
		"common mix of 260302a 57.00, Nepheline syenite 33.75, Potash feldspar 11.25",
		"common mix of 260302a 57.00, Nepheline syenite 45.00",
	}, cups, "no step for nothing")
	assert.Contains(t, spoken(r.s.View().Now.Headline), "Series 260302a is complete")

	b := r.books()
	require.Len(t, b.Batches(), 6)
	made := b.Find("260302a-2").Made()
	shares := map[string]string{}
	for _, l := range made.Lines {
		shares[l.Material] = l.Share
		assert.Equal(t, strings.TrimSuffix(strings.TrimRight(l.Share, "0"), "."), l.Planned, l.Material)
		assert.Equal(t, "in", l.Verdict, l.Material)
		assert.Equal(t, l.Material == "Bentonite", l.Addition, l.Material)
	}
	assert.Equal(t, map[string]string{"Potash feldspar": "33.750", "Nepheline syenite": "11.250", "Quartz": "25.000", "Whiting": "18.000", "Ball clay": "12.000", "Bentonite": "2.000"}, shares)
	assert.Equal(t, g("100"), made.MadeBase.Mass)
	tubShares := map[string]string{}
	for _, l := range b.Find("260302a").Made().Lines {
		tubShares[l.Material] = l.Share
	}
	assert.Equal(t, "45.455", tubShares["Quartz"], "the tub's shares are of what is in it")

	// The recipe of a cup is a recipe, of the same shares.
	back, err := recipe.Parse(made.Recipe)
	require.NoError(t, err, made.Recipe)
	for _, it := range back.Items {
		assert.Equal(t, shares[it.Name], it.Share.FloatString(3), it.Name)
	}
	assert.Equal(t, "Bath white, invented", back.Title)
	last, err := recipe.Parse(b.Find("260302a-5").Made().Recipe)
	require.NoError(t, err)
	assert.Equal(t, "Nepheline syenite", last.Items[0].Name)
	assert.Len(t, last.Items, 5)

	c := book.Compare(b.Find("260302a-1"), b.Find("260302a-5"))
	assert.False(t, c.Explains, "they differ as planned")
	assert.Contains(t, c.Verdict, "the recipes differ")
	for _, l := range c.Lines {
		assert.Equal(t, strings.HasSuffix(l.Material, "feldspar") || l.Material == "Nepheline syenite", l.Differs, l.Material)
	}
	assert.Contains(t, fmt.Sprint(c.Words), "cups of one tub")

	s, ok := b.Series("260302a-3")
	require.True(t, ok)
	assert.Equal(t, []string{"Nepheline syenite"}, s.Axes, "the other is what it leaves")
	assert.Equal(t, "Nepheline syenite takes the place of Potash feldspar; together they are 45 % of the base", s.Swap)
	require.Len(t, s.Grids, 1)
	assert.Equal(t, []string{"0", "11.25", "22.5", "33.75", "45"}, s.Grids[0].Cols)
	for i, spot := range s.Grids[0].Cells[0] {
		assert.Equal(t, fmt.Sprintf("260302a-%d", i+1), spot.Cup)
		assert.False(t, spot.Off)
	}
}

// With an addition that is varied, each step goes with each level, and a strong
// colourant is last in each cup.
func TestASwapWithAnAddition(t *testing.T) {
	w := feldspars
	w.Steps, w.Vary = 1, []plan.Addition{{Material: "Cobalt carbonate", Levels: "0 1"}}
	r := seriesRig(t, w)
	var labels []string
	for _, p := range r.s.Batch.Plan.Series.Plans {
		labels = append(labels, p.Label)
	}
	assert.Equal(t, []string{"Potash feldspar 45 %", "Nepheline syenite 45 %", "Potash feldspar 45 %, Cobalt carbonate 1 %", "Nepheline syenite 45 %, Cobalt carbonate 1 %"}, labels)
	assert.Contains(t, fmt.Sprint(reminded(r.s)), "Cobalt carbonate")
	for r.s.Batch.Mark == "260302a" {
		r.onTarget()
	}
	r.must("yes")
	for !r.s.Batch.Finished {
		r.onTarget()
	}
	b := r.books()
	s, ok := b.Series("260302a")
	require.True(t, ok)
	assert.Equal(t, []string{"Nepheline syenite", "Cobalt carbonate"}, s.Axes)
	require.Len(t, s.Grids, 1)
	assert.Equal(t, []string{"0", "1"}, s.Grids[0].Rows)
	for _, row := range s.Grids[0].Cells {
		for _, spot := range row {
			assert.Equal(t, book.Finished, spot.State)
		}
	}
	made := b.Find("260302a-4").Made()
	assert.Contains(t, made.Recipe, "+ Cobalt carbonate 1%")
	assert.NotContains(t, made.Recipe, "Potash")
}

// Too much of what is swapped is only in that cup, and the rest of it can grow.
func TestASwapIsOverpoured(t *testing.T) {
	w := feldspars
	w.Steps = 2
	r := seriesRig(t, w)
	for r.s.Batch.Mark == "260302a" {
		r.onTarget()
	}
	r.must("yes")
	r.onTarget()
	r.fine(g("46.00")) // a gram of 45 too much
	require.Equal(t, "overpour", r.s.View().Asked.Question)
	r.must("enlarge")
	assert.Equal(t, "common mix of 260302a", r.s.View().Now.Material)
	for !r.s.Batch.Finished {
		r.onTarget()
	}
	b := r.books()
	for cup := 1; cup <= 3; cup++ {
		made := b.Find(fmt.Sprintf("260302a-%d", cup)).Made()
		for _, l := range made.Lines {
			assert.Equal(t, "in", l.Verdict, "cup %d: %s", cup, l.Material)
		}
		if cup == 1 {
			assert.Greater(t, made.MadeBase.Mass, g("100"))
		} else {
			assert.Equal(t, g("100"), made.MadeBase.Mass)
		}
	}
}

// Thirds can be read back, in a swap and in a line.
func TestTheRecipesOfCupsAreRecipes(t *testing.T) {
	scales := []sheet.Scale{{Name: "fine", Step: g("0.01"), Max: g("3000")}}
	for _, w := range []plan.Series{
		{Cup: "100g", Steps: 7, Swap: plan.Swap{Out: "Quartz", In: "Ball clay"}},
		{Cup: "100g", Steps: 3, Swap: plan.Swap{Out: "Bentonite", In: "Zircon"}, Vary: []plan.Addition{{Material: "Rutile", Levels: "0 2"}}},
		{Cup: "100g", Steps: 4, Blend: "line", Vary: []plan.Addition{{Material: "Rutile", Levels: "4"}, {Material: "Tin oxide", Levels: "5"}}},
	} {
		sh, err := plan.Request{Recipe: white + "Water 85%\n", Series: &w}.Sheet(scales)
		require.NoError(t, err)
		s := planned(sh, white+"Water 85%\n", scales, false).Series
		for i, p := range s.Plans {
			rec, err := recipe.Parse(p.Recipe)
			require.NoError(t, err, p.Recipe)
			assert.NotNil(t, rec.Water)
			for _, l := range sh.Cups[i].Lines {
				k := slices.IndexFunc(rec.Items, func(it recipe.Item) bool { return it.Name == l.Material })
				require.GreaterOrEqual(t, k, 0, p.Recipe)
				assert.Equal(t, l.Share.FloatString(7), rec.Items[k].Share.FloatString(7), p.Recipe)
				assert.Equal(t, l.Addition, rec.Items[k].Addition)
			}
		}
	}
}

// A swap of 66 cups is planned, and its cups opened.
func BenchmarkSwapOf66(b *testing.B) {
	w := plan.Series{Cup: "50g", Steps: 10, Swap: feldspars.Swap, Vary: []plan.Addition{{Material: "Rutile", Levels: "0 1 2 3 4 5"}}}
	for b.Loop() {
		sh, err := (plan.Request{Recipe: white, Series: &w}).Sheet([]sheet.Scale{{Name: "fine", Step: g("0.01"), Max: g("9000")}})
		if err != nil {
			b.Fatal(err)
		}
		if n := len(planned(sh, white, nil, false).Series.Plans); n != 66 {
			b.Fatal(n)
		}
	}
}
