//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A whole series on the real program, with simulated hands on a simulated
// scale: the tub is weighed and mixed, the cups follow, the program is killed
// between two of them, and each is a batch of its own in the book.
func TestWeighASeries(t *testing.T) {
	t.Parallel() // it takes the time that a pan takes to settle
	r := newRig(t, "# Bath white, invented for tests\nQuartz 60\nWhiting 40\n", "0g")
	at := slices.Index(r.args, "--base")
	r.args = slices.Replace(r.args, at, at+2, "--cup", "60g", "--vary", "Tin oxide=10 20")
	r.start()
	tub := r.until("planned", nil)["batch"].(string)
	r.until("asked", nil)
	r.say("yes Ilse")
	r.state("container")
	r.hand("put")
	r.until("tared", nil)
	r.weigh("Quartz")
	r.weigh("Whiting")
	cup := r.until("planned", nil)
	assert.Equal(t, tub+"-1", cup["batch"])
	r.until("asked", func(v map[string]any) bool { return v["question"] == "mix" })
	r.say("yes")
	r.weigh("common mix of " + tub)
	require.NoError(t, r.cmd.Process.Kill())
	_ = r.cmd.Wait()
	r.start()
	assert.Equal(t, tub+"-1", r.until("resumed", nil)["batch"])
	p := r.weigh("Tin oxide")
	assert.Equal(t, map[string]any{"g": "6.0"}, p["target"])
	assert.Equal(t, tub+"-2", r.until("planned", nil)["batch"])
	r.weigh("common mix of " + tub)
	r.weigh("Tin oxide")
	r.until("finished", nil)
	require.NoError(t, ends(t, r.cmd), r.errs.String())

	got := runTared(t, "", "record", tub+"-2", "--data", r.dir, "--json")
	require.Equal(t, exitDone, got.code, got.err)
	var made struct {
		State, Series string
		Lines         []struct{ Material, Verdict string }
		Hash          string
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &made))
	assert.Equal(t, "finished", made.State)
	assert.Equal(t, tub, made.Series)
	require.Len(t, made.Lines, 3)
	for _, l := range made.Lines {
		assert.Equal(t, "in", l.Verdict, l.Material)
	}
	got = runTared(t, "", "record", "--data", r.dir)
	assert.Equal(t, 3, strings.Count(got.out, tub), "the tub and two cups:\n%s", got.out)
	checkChain(t, r.dir, made.Hash)
}

// With a balance read by eye, words are enough to weigh by a mixing cup.
func TestWeighAnAliquotByEye(t *testing.T) {
	t.Parallel()
	recipe := writeFile(t, "recipe.txt", "# Bath blue, invented\nQuartz 60\nWhiting 40\n+ Cobalt carbonate 0.4\n")
	dir := t.TempDir()
	args := []string{recipe, "--base", "300g", "--aliquot", "Cobalt carbonate", "--scale", "name=old,port=eye,step=0.1g,max=2000g"}
	got := runTared(t, "", append([]string{"plan"}, args...)...)
	require.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "Cobalt carbonate goes in diluted")
	// It is left after one weighing. Taken up again, it goes on as it was begun or not
	// at all: a mixing cup that is half full is no matter of flags.
	got = runTared(t, "yes Mara\ntyped 0.1g\n", append([]string{"weigh"}, append(args, "--data", dir)...)...)
	require.Equal(t, exitFailed, got.code)
	plain := slices.Delete(slices.Clone(args), 3, 5)
	got = runTared(t, "", append([]string{"weigh"}, append(plain, "--data", dir)...)...)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "Cobalt carbonate goes in diluted there, and no --aliquot says so here")
	got = runTared(t, "", append([]string{"weigh"}, append(args, "--moist", "Quartz=3%", "--data", dir)...)...)
	assert.Contains(t, got.err, "Quartz counts with a moisture of")
	words := "undo yes\ntyped 171.6g\ntyped 120.0g\ntyped 10.0g\ntyped 70.0g\nyes\ntyped 9.6g\n"
	got = runTared(t, words, append([]string{"weigh"}, append(args, "--data", dir)...)...)
	require.Equal(t, exitDone, got.code, got.out+got.err)
	got = runTared(t, "", "record", "--data", dir)
	mark := strings.Fields(strings.Split(got.out, "\n")[1])[0]
	got = runTared(t, "", "record", mark, "--data", dir)
	assert.Contains(t, got.out, "diluted: 10.0 g in 70.0 g of Quartz, of which 9.6 g went in")
	got = runTared(t, "", append([]string{"plan"}, append(args, "--aliquot", "Zircon")...)...)
	assert.Equal(t, exitUsage, got.code)
	assert.Contains(t, got.err, "not in the recipe")
}

// A sheet for a scale in ounces is in ounces: 41 % of 25 oz is 10.25 oz, and a step of
// 0.05 oz with half a step assumed has U = 2·sqrt(5/12)·0.05 oz = 0.0645 oz.
func TestPlanInOunces(t *testing.T) {
	recipe := writeFile(t, "tidewrack.txt", tidewrack)
	got := runTared(t, "", "plan", recipe, "--base", "25oz", "--scale", "name=bench,step=0.05oz,max=5lb")
	require.Zero(t, got.code, got.err)
	assert.Contains(t, got.out, "25.00 oz of base, 26.30 oz dry")
	assert.Regexp(t, `Nepheline syenite +base +41 % +10.25 oz +10.15 oz +10.35 oz +bench +good +~0.065 oz`, got.out)
	got = runTared(t, "", "plan", recipe, "--base", "2.5oz", "--scale", "name=bench,step=0.1g", "--scale", "name=fine,step=0.05oz")
	require.Zero(t, got.code, got.err)
	assert.Contains(t, got.out, "70.9 g of base, 74.6 g dry")
}

func TestPlanASeries(t *testing.T) {
	t.Parallel()
	recipe := writeFile(t, "recipe.txt", "Quartz 60\nWhiting 40\n")
	scale := "name=bench,step=0.01g,max=600g"
	got := runTared(t, "", "plan", recipe, "--cup", "100g", "--vary", "Cobalt carbonate=0.5 1", "--vary", "Rutile=2 4 6", "--scale", scale, "--json")
	require.Equal(t, exitDone, got.code, got.err)
	var s struct{ Cups []json.RawMessage }
	require.NoError(t, json.Unmarshal([]byte(got.out), &s))
	assert.Len(t, s.Cups, 6)
	got = runTared(t, "", "plan", recipe, "--cup", "100g", "--vary", "Cobalt carbonate=0.5 1", "--scale", scale)
	assert.Contains(t, got.out, "! Cobalt carbonate", "what comes into the cups only has its warning too")
	for _, bad := range [][]string{{"--cup", "100g", "--base", "2kg", "--vary", "Rutile=2"}, {"--base", "100g", "--vary", "Rutile=2"}, {"--cup", "100g", "--vary", "Rutile"}} {
		got = runTared(t, "", append([]string{"plan", recipe, "--scale", scale}, bad...)...)
		assert.Equal(t, exitUsage, got.code, "%v: %s", bad, got.err)
	}
}

func TestPlanASwap(t *testing.T) {
	recipe := writeFile(t, "recipe.txt", "# Bath white, invented\nPotash feldspar 45\nQuartz 25\nWhiting 30\n")
	plan := func(args ...string) outcome {
		return runTared(t, "", append([]string{"plan", recipe, "--scale", "name=bench,step=0.01g,max=600g"}, args...)...)
	}
	swap := []string{"--cup", "100g", "--swap", "Potash feldspar=Nepheline syenite", "--steps", "4"}
	got := plan(swap...)
	require.Equal(t, exitDone, got.code, got.err)
	text := strings.Join(strings.Fields(got.out), " ")
	assert.Contains(t, text, "2 common mix 55.00 g")
	assert.Contains(t, text, "Potash feldspar 33.75 % 33.75 g")
	assert.Contains(t, text, "Nepheline syenite 11.25 % 11.25 g")
	assert.Contains(t, text, "Nepheline syenite takes the place of Potash feldspar from cup to cup; together they stay at 45 % of the base.")
	got = plan(append(swap, "--json")...)
	var s struct {
		Cups []struct {
			Lines []struct{ Material, Share string }
		}
		Swap struct {
			Out, In, Share string
			Addition       bool
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &s))
	require.Len(t, s.Cups, 5)
	assert.Len(t, s.Cups[0].Lines, 1)
	assert.Len(t, s.Cups[1].Lines, 2)
	assert.Equal(t, "Nepheline syenite", s.Swap.In)
	assert.Equal(t, "45", s.Swap.Share)
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--cup", "100g", "--swap", "Quartz"}, exitUsage, `--swap "Quartz": give a material of the recipe`},
		{[]string{"--cup", "100g", "--swap", "=Quartz"}, exitUsage, "give a material of the recipe"},
		{[]string{"--base", "100g", "--swap", "Quartz=Flint"}, exitUsage, "say --cup 100g as well"},
		{[]string{"--cup", "100g", "--swap", "Talc=Flint"}, exitUsage, "Talc is not in the recipe"},
		{[]string{"--cup", "100g", "--swap", "Quartz=Flint", "--steps", "0"}, exitUsage, "A swap in 0 steps"},
		{[]string{"--cup", "100g", "--swap", "Quartz=quartz"}, exitUsage, "cannot take its own place"},
	} {
		got := plan(c.args...)
		assert.Equal(t, c.code, got.code, "%v: %s", c.args, got.err)
		assert.Contains(t, got.err, c.want)
	}
}

// Nine cups with two colourants: planned, weighed by simulated hands on a simulated
// scale through the real program, and read back from the book, each cup a batch of
// its own that is tied to its series.
func TestWeighNineCups(t *testing.T) {
	if os.Getenv("TARED_LONG") == "" {
		t.Skip("twenty-nine weighings at the pace of a pan take minutes: say TARED_LONG=1")
	}
	t.Parallel()
	r := newRig(t, "# Bath white, invented for tests\nQuartz 60\nWhiting 40\n", "0g")
	at := slices.Index(r.args, "--base")
	r.args = slices.Replace(r.args, at, at+2, "--cup", "60g", "--vary", "Copper carbonate=5 10 15", "--vary", "Rutile=10 20 30")
	r.start()
	tub := r.until("planned", nil)["batch"].(string)
	r.until("asked", nil)
	r.say("yes Ilse")
	r.state("container")
	r.hand("put")
	r.until("tared", nil)
	r.weigh("Quartz")
	r.weigh("Whiting")
	r.until("asked", func(v map[string]any) bool { return v["question"] == "mix" })
	r.say("yes")
	for range 9 {
		r.weigh("common mix of " + tub)
		r.weigh("Rutile")
		r.weigh("Copper carbonate")
	}
	r.until("finished", func(v map[string]any) bool { return v["batch"] == tub+"-9" })
	require.NoError(t, ends(t, r.cmd), r.errs.String())

	seen := map[string]bool{}
	last := 0.0
	for cup := 1; cup <= 9; cup++ {
		got := runTared(t, "", "record", fmt.Sprintf("%s-%d", tub, cup), "--data", r.dir, "--json")
		require.Equal(t, exitDone, got.code, got.err)
		var made struct {
			State, Series, Recipe string
			Lines                 []struct{ Material, Verdict, Share string }
		}
		require.NoError(t, json.Unmarshal([]byte(got.out), &made))
		assert.Equal(t, "finished", made.State)
		assert.Equal(t, tub, made.Series)
		require.Len(t, made.Lines, 4)
		for _, l := range made.Lines {
			assert.Equal(t, "in", l.Verdict, "cup %d: %s", cup, l.Material)
			share, err := strconv.ParseFloat(l.Share, 64)
			require.NoError(t, err)
			if l.Material == "Copper carbonate" {
				assert.Greater(t, share+0.5, last, "from the weakest to the strongest")
				last = share
			}
		}
		assert.False(t, seen[made.Recipe], "each cup has a recipe of its own")
		seen[made.Recipe] = true
	}
	got := runTared(t, "", "verify", "--data", r.dir)
	assert.Equal(t, exitDone, got.code, got.out)
}
