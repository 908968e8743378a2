package recipe

import (
	"fmt"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// An invented recipe.
const bathWhite = "# Bath white, invented\nPotash feldspar 45\nQuartz 25\nWhiting 18\nBall clay 12\n+ Bentonite 2\n+ Tin oxide 4\n"

func TestPair(t *testing.T) {
	r, err := Parse(bathWhite)
	require.NoError(t, err)
	for _, c := range []struct{ out, in, share, wrong string }{
		{out: "potash  feldspar", in: "Nepheline syenite", share: "45"},
		{out: "Potash feldspar", in: "quartz", share: "70"},
		{out: "Tin oxide", in: "Zircon", share: "4"},
		{out: "Tin oxide", in: "Bentonite", share: "6"},
		{out: "Cornish stone", in: "Quartz", wrong: "Swap: Cornish stone is not in the recipe. It has: Potash feldspar, Quartz, Whiting, Ball clay, Bentonite, Tin oxide"},
		{out: "Quartz", in: " quartz ", wrong: "Quartz cannot take its own place"},
		{out: "Quartz", in: " ", wrong: "a name is missing"},
		{out: "", in: "Quartz", wrong: "a name is missing"},
		{out: "Quartz", in: "Tin oxide", wrong: "Quartz and Tin oxide must both be in the base, or both be additions"},
		{out: "Quartz", in: "+ Zircon", wrong: "“+ Zircon” cannot be the name"},
		{out: "Quartz", in: "# 7", wrong: "cannot be the name"},
		{out: "Quartz", in: "12", wrong: "cannot be the name"},
		{out: "Quartz", in: "Water", wrong: "cannot be the name"},
		{out: "Quartz", in: strings.Repeat("long ", 60), wrong: "cannot be the name"},
	} {
		p, err := r.Pair(c.out, c.in)
		if c.wrong != "" {
			assert.ErrorContains(t, err, c.wrong)
			continue
		}
		require.NoError(t, err, c.out)
		assert.Equal(t, c.share, p.Share.RatString(), c.out)
		assert.True(t, p.Is(strings.ToUpper(c.in)))
		assert.False(t, p.Is("Whiting"))
	}
	assert.False(t, Pair{}.Is(""))
	twice, err := Parse("Quartz 60\nWhiting 40\n+ Quartz 2\n")
	require.NoError(t, err)
	_, err = twice.Pair("Quartz", "Zircon")
	assert.ErrorContains(t, err, "both in the base and on top of it")
	_, err = twice.Pair("Whiting", "Quartz")
	assert.ErrorContains(t, err, "both in the base and on top of it")
}

func TestWithout(t *testing.T) {
	r, err := Parse(bathWhite)
	require.NoError(t, err)
	p, err := r.Pair("Potash feldspar", "Quartz")
	require.NoError(t, err)
	rest, left, err := r.Without(p)
	require.NoError(t, err)
	assert.Equal(t, "30", left.RatString())
	var got []string
	for _, it := range rest.Items {
		got = append(got, it.Name+" "+it.Share.RatString())
	}
	// Derived: 18, 12, 2 and 4 of a base of 30.
	assert.Equal(t, []string{"Whiting 60", "Ball clay 40", "Bentonite 20/3", "Tin oxide 40/3"}, got)
	assert.Len(t, r.Items, 6, "the recipe itself is as it was")
	assert.Equal(t, "18", r.Items[2].Share.RatString())

	p, err = r.Pair("Tin oxide", "Zircon")
	require.NoError(t, err)
	rest, left, err = r.Without(p)
	require.NoError(t, err)
	assert.Equal(t, "100", left.RatString())
	assert.Len(t, rest.Items, 5)

	two, err := Parse("Quartz 60\nWhiting 40\n+ Tin oxide 4\n")
	require.NoError(t, err)
	p, err = two.Pair("Quartz", "Whiting")
	require.NoError(t, err)
	_, _, err = two.Without(p)
	assert.ErrorContains(t, err, "Quartz and Whiting are the whole base")
}

func TestSwapped(t *testing.T) {
	for _, c := range []struct{ text, out, in, part, want string }{
		{"Quartz 60\nWhiting 40\n", "Quartz", "Flint", "0", "Quartz 60, Whiting 40"},
		{"Quartz 60\nWhiting 40\n", "Quartz", "Flint", "1", "Flint 60, Whiting 40"},
		{"Quartz 60\nWhiting 40\n", "Quartz", "Flint", "1/4", "Quartz 45, Flint 15, Whiting 40"},
		{"Quartz 10\nWhiting 40\n", "Quartz", "Flint", "1/3", "Quartz 6.666666667, Flint 3.333333333, Whiting 40"},
		{"Quartz 60\nWhiting 40\n", "Quartz", "Whiting", "1/2", "Quartz 30, Whiting 70"},
		{"Quartz 1kg\nWhiting 400g\n", "Quartz", "Whiting", "1/2", "Quartz 500g, Whiting 900g"},
		{"Quartz 1kg\nWhiting 400g\n+ Tin oxide 50g\n+ Zircon 2%", "Tin oxide", "Zircon", "1", "Quartz 1kg, Whiting 400g, Zircon 5.571428571%"},
		{"Quartz 60\nWhiting 40\n+ Tin oxide 4\n+ Zircon 2%", "Tin oxide", "Zircon", "1/2", "Quartz 60, Whiting 40, Tin oxide 2%, Zircon 4%"},
	} {
		r, err := Parse(c.text)
		require.NoError(t, err)
		p, err := r.Pair(c.out, c.in)
		require.NoError(t, err)
		part, _ := new(big.Rat).SetString(c.part)
		var got []string
		for _, it := range r.Swapped(p, part).Items {
			a, ends := decimal(it.Amount)
			require.True(t, ends)
			got = append(got, it.Name+" "+a+it.Unit)
		}
		assert.Equal(t, c.want, strings.Join(got, ", "), c.text)
	}
}

// Whatever is swapped, the text is a recipe, nothing else in it changes, and both
// add up to what they were.
func TestSwappedIsARecipe(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := "# Invented\n"
		n := rapid.IntRange(2, 6).Draw(rt, "base")
		unit := rapid.SampledFrom([]string{"", "g", "kg"}).Draw(rt, "unit")
		for i := range n {
			text += fmt.Sprintf("Stone %c %d.%d%s\n", 'a'+i, rapid.IntRange(1, 90).Draw(rt, "whole"), rapid.IntRange(0, 9).Draw(rt, "tenths"), unit)
		}
		text += "+ Ochre 3.7%\nWater 85%\n"
		r, err := Parse(text)
		if err != nil {
			rt.Fatal(err)
		}
		in := rapid.SampledFrom([]string{"Stone b", "Sand"}).Draw(rt, "in")
		p, err := r.Pair("Stone a", in)
		if err != nil {
			rt.Fatal(err)
		}
		steps := rapid.Int64Range(1, 40).Draw(rt, "steps")
		part := big.NewRat(rapid.Int64Range(0, steps).Draw(rt, "step"), steps)
		back, err := Parse(r.Swapped(p, part).Text)
		if err != nil {
			rt.Fatalf("%v\n%s", err, r.Swapped(p, part).Text)
		}
		sum, out := new(big.Rat), new(big.Rat)
		for _, it := range back.Items {
			if p.Is(it.Name) {
				sum.Add(sum, it.Share)
			} else {
				for _, was := range r.Items {
					if was.Name == it.Name && was.Share.Cmp(it.Share) != 0 {
						rt.Fatalf("%s was %s and is %s", it.Name, was.Share, it.Share)
					}
				}
			}
			if it.Name == "Stone a" {
				out = it.Share
			}
		}
		if sum.Cmp(p.Share) != 0 {
			rt.Fatalf("both were %s and are %s", p.Share, sum)
		}
		want, _ := p.Shares(part)
		if d := new(big.Rat).Sub(out, want); d.Abs(d).Cmp(big.NewRat(1, 1_000_000)) > 0 {
			rt.Fatalf("%s of Stone a, want %s", out.FloatString(9), want.FloatString(9))
		}
		if back.Water == nil {
			rt.Fatal("the water is lost")
		}
	})
}
