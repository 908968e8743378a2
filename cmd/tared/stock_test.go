package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// From the bag to the bill, as a person would go about it: two lots are brought
// in, the plan is short, a smaller batch is weighed by eye with moist quartz, and
// the record, the stock and the export tell what became of it.
func TestStockFromTheBagToTheBill(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	recipe := writeFile(t, "recipe.txt", "# Bath white, invented\nQuartz 60\nWhiting 40\n")
	tared := func(in string, args ...string) outcome {
		t.Helper()
		return runTared(t, in, append(args, "--data", dir)...)
	}
	done := func(r outcome) string {
		t.Helper()
		require.Equal(t, exitDone, r.code, r.out+r.err)
		return r.out
	}
	assert.Contains(t, done(tared("", "stock")), "No lot is in stock")
	done(tared("", "stock", "--add", "Flint", "--amount", "200g", "--moisture", "20%", "--price", "2 EUR", "--supplier", "Q-2217", "--by", "Mara"))
	done(tared("", "stock", "--add", "Whiting", "--amount", "5kg", "--price", "1 EUR", "--by", "Mara"))
	scale := []string{"--scale", "name=old,port=eye,step=0.1g,max=2000g"}
	out := done(tared("", append([]string{"plan", recipe, "--base", "300g"}, scale...)...))
	assert.Contains(t, out, "Short: Quartz: 225 g is needed, and lot L1 (Q-2217) has 200 g left.\nThere is enough in stock for 266 g of base")
	words := "yes Mara\ntyped 150.0g\ntyped 80.0g\n"
	got := tared(words, append([]string{"weigh", recipe, "--base", "300g"}, scale...)...)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "There is not enough in stock.")
	assert.Contains(t, done(tared("", "record")), "No batch has been recorded", "nothing was begun")

	done(tared(words, append([]string{"weigh", recipe, "--base", "200g", "--although-short"}, scale...)...))
	list := done(tared("", "record"))
	mark := strings.Fields(strings.Split(list, "\n")[1])[0]
	out = done(tared("", "record", mark))
	assert.Contains(t, out, "Made 200.0 g of base, 200.0 g dry", "of 150 g at 20 % 120 g count")
	assert.Contains(t, out, "150.0 (120.0 dry)")
	assert.Contains(t, out, "Cost of the materials, by what was taken from the bags: 0.38 EUR", "150 g at 2 and 80 g at 1 a kilogram")
	var made struct {
		Lines []struct {
			Share string
			Dry   *struct{ G string }
			Bag   struct{ Lot, Cost string }
		}
		Cost struct {
			Sums []struct{ Amount, Currency string }
		}
	}
	require.NoError(t, json.Unmarshal([]byte(done(tared("", "record", mark, "--json"))), &made))
	assert.Equal(t, "60.000", made.Lines[0].Share)
	assert.Equal(t, "120.0", made.Lines[0].Dry.G)
	assert.Equal(t, "L1", made.Lines[0].Bag.Lot)
	assert.Equal(t, "0.30", made.Lines[0].Bag.Cost)
	assert.Equal(t, "0.38", made.Cost.Sums[0].Amount)
	assert.Contains(t, done(tared("", "export", mark, "--as", "csv")), ",120.0,L1,20,0.30,EUR")
	for _, as := range []string{"csv", "page"} {
		out = done(tared("", "export", mark, "--as", as, "--without", "prices"))
		assert.NotContains(t, out, "EUR", as)
		assert.NotContains(t, out, "0.30", as)
	}
	assert.Contains(t, done(tared("", "stock", "l1")), "left                 50 g")

	got = tared("", "stock", "--correct", "L1", "--amount", "-5g", "--reason", "counted", "--by", "Jonas")
	assert.Equal(t, exitUsage, got.code)
	assert.Contains(t, got.err, "An amount cannot be negative")
	done(tared("", "stock", "--correct", "L1", "--amount", "45g", "--reason", "counted", "--by", "Jonas"))
	var l struct {
		Left    struct{ G string }
		Entries []struct{ Old, New, Reason string }
	}
	require.NoError(t, json.Unmarshal([]byte(done(tared("", "stock", "L1", "--json"))), &l))
	assert.Equal(t, "45", l.Left.G)
	require.Len(t, l.Entries, 1)
	assert.Equal(t, "50 g", l.Entries[0].Old)
	out = done(tared("", append([]string{"plan", recipe, "--from-stock", "--json"}, scale...)...))
	assert.Contains(t, out, `"base":{"g":"60"}`, "45 g at 20 % are 36 g, which are 60 % of it")
	out = done(tared("", append([]string{"plan", recipe, "--from-stock", "--most", "50g"}, scale...)...))
	assert.Contains(t, out, "50 g of base, 50 g dry")
	assert.Contains(t, out, "There is enough in stock for more than 50 g of base; the largest batch that is wanted, 50 g dry, sets the limit.")
	got = tared("", "stock", "--add", "Qartz", "--amount", "1kg", "--by", "Jonas")
	assert.Equal(t, exitUsage, got.code)
	assert.Contains(t, got.err, "--add: “Qartz” is in no table of materials. Did you mean Quartz?")
	done(tared("", "stock", "--add", "Qartz", "--as-written", "--amount", "1kg", "--by", "Jonas"))
	done(tared("", "stock", "--add", "Qartz", "--amount", "1kg", "--by", "Jonas"))
	done(tared("", "verify"))
	for _, bad := range [][]string{{"stock", "--add", "Quartz", "--correct", "L1"}, {"stock", "--amount", "3g"}, {"stock", "L1", "--add", "Quartz"},
		{"stock", "--add", "Quartz", "--amount", "1kg", "--reason", "x", "--by", "M"}, {"stock", "--add", "Quartz", "--amount", "1kg"}} {
		assert.Equal(t, exitUsage, tared("", bad...).code, bad)
	}
	assert.Equal(t, exitFailed, tared("", "stock", "L9").code)
}

func TestRecipesFromTheJournal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	run := func(in string, args ...string) outcome {
		t.Helper()
		return runTared(t, in, append(args, "--data", dir)...)
	}
	text := "Material;Amount\nQuartz;60,5\nWhiting;39,5\n"
	got := run(text, "recipe", "--save", "-", "--name", "Bath white", "--by", "Mara")
	require.Equal(t, exitDone, got.code, got.err)
	got = run("Quartz\t600 g\nWhiting\t400 g\n+ Rutile\t20 g\n", "recipe", "--save", "-", "--name", "bath white", "--note", "with rutile", "--by", "Jonas")
	require.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "Bath white, version 2")
	got = run("", "recipe", "Bath white:1", "--plain")
	assert.Equal(t, "Quartz    60.5\nWhiting   39.5\n", got.out)
	got = run("", "recipe", "Bath white", "--diff", "1,2")
	assert.Contains(t, got.out, "Quartz: 60.5 % to 60 %\n  Whiting: 39.5 % to 40 %\n  Rutile: new among the additions, 2 %")
	got = run("", "plan", "@bath:1", "--base", "1kg", "--scale", "name=bench,step=0.1g,max=2000g")
	require.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "605.0 g")
	got = run("yes Mara\ntyped 121g\ntyped 79g\n", "weigh", "@bath:1", "--base", "200g", "--scale", "name=old,port=eye,step=0.1g,max=2000g")
	require.Equal(t, exitDone, got.code, got.err)
	got = run("", "record")
	got = run("", "record", strings.Fields(strings.Split(got.out, "\n")[1])[0])
	assert.Contains(t, got.out, "Its recipe is kept: Bath white, version 1.")
	got = run("", "plan", "@bath:9", "--base", "1kg", "--scale", "name=bench,step=0.1g,max=2000g")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "has no version 9. It has 1 to 2")
	got = run("Quartz 60\nWhiting fourty\n", "recipe", "--save", "-", "--name", "x", "--by", "Mara")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "line 2")
	for _, bad := range [][]string{{"recipe", "--diff", "1,2"}, {"recipe", "x", "--save", "-"}, {"recipe", "Bath white", "--diff", "1-2"}, {"recipe", "--note", "x"}} {
		assert.Equal(t, exitUsage, run("", bad...).code, bad)
	}
}
