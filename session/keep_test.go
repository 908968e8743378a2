package session

import (
	"context"
	"math/big"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/recipe"
	"tared/session/sheet"
)

func lot(material, amount string, more ...func(*LotRequest)) KeepRequest {
	w := &LotRequest{Material: material, Amount: amount}
	for _, f := range more {
		f(w)
	}
	return KeepRequest{By: "Mara", Lot: w}
}

// An invented stock in a directory of its own.
func stocked(t *testing.T, rs ...KeepRequest) string {
	t.Helper()
	dir := t.TempDir()
	for _, r := range rs {
		_, err := RecordKeep(dir, "", time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), r)
		require.NoError(t, err)
	}
	return dir
}

func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic(s)
	}
	return r
}

func TestKeepRefuses(t *testing.T) {
	dir := stocked(t, lot("Quartz", "1kg"))
	before, err := os.ReadFile(filepath.Join(dir, "journal.jsonl"))
	require.NoError(t, err)
	correct := func(w CorrectRequest) KeepRequest { return KeepRequest{By: "Mara", Correct: &w} }
	for why, r := range map[string]KeepRequest{
		"Keep one thing":               {By: "Mara"},
		"A record needs a name":        {Lot: &LotRequest{Material: "Quartz", Amount: "1kg"}},
		"name of the material":         lot(" ", "1kg"),
		"must be more than zero":       lot("Quartz", "0g"),
		"An amount cannot be negative": lot("Quartz", "-1kg"),
		"Check the unit":               lot("Quartz", "6000kg"),
		"unit":                         lot("Quartz", "25"),
		"all water":                    lot("Quartz", "1kg", func(w *LotRequest) { w.Moisture = "100%" }),
		"Give 0 % to less":             lot("Quartz", "1kg", func(w *LotRequest) { w.Moisture = "-3%" }),
		"the price of a kilogram":      lot("Quartz", "1kg", func(w *LotRequest) { w.Price = "cheap" }),
		"write the day as":             lot("Quartz", "1kg", func(w *LotRequest) { w.Opened = "last week" }),
		"no lot “L7”":                  correct(CorrectRequest{Lot: "L7", Amount: "1g", Reason: "counted"}),
		"a reason for the correction":  correct(CorrectRequest{Lot: "L1", Amount: "1g"}),
		"correct one thing at a time":  correct(CorrectRequest{Lot: "L1", Amount: "1g", Price: "1", Reason: "counted"}),
		"amount cannot be negative":    correct(CorrectRequest{Lot: "L1", Amount: "-1g", Reason: "counted"}),
		"nothing to correct":           correct(CorrectRequest{Lot: "L1", Amount: "1000g", Reason: "counted"}),
		"has no name":                  {By: "Mara", Recipe: &RecipeRequest{Text: "Quartz 60\nWhiting 40\n"}},
		"without a colon":              {By: "Mara", Recipe: &RecipeRequest{Name: "White: matt", Text: "Quartz 60\nWhiting 40\n"}},
	} {
		_, err := RecordKeep(dir, "", time.Now(), r)
		assert.ErrorIs(t, err, ErrRefused, why)
		assert.ErrorContains(t, err, why)
	}
	_, err = RecordKeep(dir, "", time.Now(), KeepRequest{By: "Mara", Recipe: &RecipeRequest{Name: "White", Text: "Quartz lots\n"}})
	var fault *recipe.Error
	require.ErrorAs(t, err, &fault)
	assert.Equal(t, 1, fault.Line)
	after, err := os.ReadFile(filepath.Join(dir, "journal.jsonl"))
	require.NoError(t, err)
	assert.Equal(t, string(before), string(after), "nothing changed")
}

func TestRecipesAreKeptInVersions(t *testing.T) {
	dir := stocked(t)
	ctx := context.Background()
	b, stop := benchOn(t, dir)
	got, err := b.Keep(ctx, KeepRequest{By: "Mara", Recipe: &RecipeRequest{Text: recipeText}})
	require.NoError(t, err)
	assert.Equal(t, Receipt{Seq: 1, Name: "Plunge pool green, invented", Version: 1}, got)
	_, err = b.Keep(ctx, KeepRequest{By: "Mara", Recipe: &RecipeRequest{Text: recipeText}})
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "this very text")
	got, err = b.Keep(ctx, KeepRequest{By: "Jonas", Recipe: &RecipeRequest{Text: recipeText + "# less of it\n", Words: "a note more"}})
	require.NoError(t, err)
	assert.Equal(t, uint64(2), got.Version)
	mark, err := b.Start(ctx, plan.Request{Recipe: recipeText, Base: "750g", By: "Mara"})
	require.NoError(t, err)
	_, opened, _, err := b.Open(ctx)
	require.NoError(t, err)
	assert.Equal(t, "Plunge pool green, invented, version 1", opened.Kept, "the batch %s knows which version it is", mark)
	stop()
	b, stop = benchOn(t, dir)
	defer stop()
	_, recipes, err := b.LotsAndRecipes(ctx)
	require.NoError(t, err)
	require.Len(t, recipes, 1)
	assert.Len(t, recipes[0].Versions, 2, "they are there after a restart")
}

func TestShortageIsToldBeforeTheStart(t *testing.T) {
	dir := stocked(t, lot("Quartz", "150g"), lot("Ball clay", "10kg", func(w *LotRequest) { w.Moisture = "4%" }), lot("Flint", "100g"))
	b, stop := benchOn(t, dir)
	defer stop()
	ctx := context.Background()
	wish := plan.Request{Recipe: recipeText, Base: "750g", By: "Mara"} // it wants 180 g of quartz
	sh, err := b.Plan(ctx, wish)
	require.NoError(t, err)
	require.NotEmpty(t, sh.Lots)
	assert.True(t, sh.Lots[0].Short)
	assert.Contains(t, sh.Lots[0].Words, "180 g is needed, and lot L1 has 150 g left. There is also lot L3 with 100 g")
	require.NotNil(t, sh.Instead)
	assert.Equal(t, g("625"), sh.Instead.Base, "150 g are 24 % of it")
	_, err = b.Start(ctx, wish)
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "625 g of base")

	wish.Base = sh.Instead.Base.Grams(0) + "g"
	sh, err = b.Plan(ctx, wish)
	require.NoError(t, err)
	assert.NoError(t, plan.Shortage(sh), "what was offered instead can be made")
	wish.Base = "626g"
	sh, err = b.Plan(ctx, wish)
	require.NoError(t, err)
	assert.Error(t, plan.Shortage(sh), "and no gram more")

	most, err := b.Plan(ctx, plan.Request{Recipe: recipeText, FromStock: true})
	require.NoError(t, err)
	assert.Equal(t, g("625"), most.Base)
	for _, r := range []plan.Request{
		{Recipe: recipeText, FromStock: true, Base: "750g"},
		{Recipe: recipeText, Base: "750g", Lots: map[string]string{"Quartz": "L2"}},
		{Recipe: recipeText, Base: "750g", Lots: map[string]string{"Quartz": "L9"}},
		{Recipe: recipeText, Base: "750g", Lots: map[string]string{"Talc": "L1"}},
		{Recipe: recipeText, Base: "750g", Moist: map[string]string{"Quartz": "100%"}},
		{Recipe: recipeText, Base: "750g", Moist: map[string]string{"Talc": "1%"}},
		{Recipe: "Talc 100\n", FromStock: true},
	} {
		_, err := b.Plan(ctx, r)
		assert.Error(t, err, "%+v", r)
	}
	wish.Base, wish.Short = "750g", true
	_, err = b.Start(ctx, wish)
	require.NoError(t, err, "a person may know better than the record")
}

// What a moist lot weighs and what of it counts, from the plan to the record and
// the bill.
func TestMoistBatchCountsWhatIsDry(t *testing.T) {
	// Invented: a bag of quartz at 20 %, so that every figure can be checked by hand.
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	var s Workshop
	seq := uint64(0)
	for _, r := range []KeepRequest{
		lot("Quartz", "1kg", func(w *LotRequest) { w.Moisture, w.Price = "20%", "2 EUR" }),
		lot("Whiting", "1kg", func(w *LotRequest) { w.Price = "1 EUR" }),
	} {
		body, err := r.Body(&s)
		require.NoError(t, err)
		seq++
		s.Add(fact.Fact{Seq: seq, Body: body})
	}
	r := plan.Request{Recipe: "Quartz 60\nWhiting 40\n+ Rutile 5\n", Base: "200g", Stock: s.Stock.Snapshot()}
	sh, err := r.Sheet(scales)
	require.NoError(t, err)
	k := newRig(t)
	k.start.Pans = []pan.Pan{pan.New("bench", g("2000"), g("0.1"))}
	k.facts, k.s = nil, k.start
	k.s.Pans = append([]pan.Pan(nil), k.s.Pans...)
	f := fact.Fact{Seq: 1, At: k.now, Batch: "260302a", By: "Mara", Body: planned(sh, r.Recipe, scales, false)}
	k.facts = append(k.facts, f)
	k.s = k.s.Apply(f)
	k.must("yes Mara")
	k.set("bench", "100.0")
	take := func(m protocol.Mass) fact.Portion {
		k.set("bench", "100.0")
		k.set("bench", (g("100") + m).Grams(1))
		k.set("bench", "0")
		k.set("bench", "100.0")
		return k.lastPortion()
	}
	require.Equal(t, g("150"), k.s.aim(k.s.Batch.Current()).Target, "120 g dry at 20 %")
	take(g("155")) // too much
	require.Equal(t, "overpour", k.s.View().Asked.Question)
	k.must("enlarge")
	e := k.facts[len(k.facts)-1].Body.(fact.Enlarged)
	assert.Equal(t, e.Base.Rounded(6), sheet.Dried(e.Lines[0].Target, rat("20")).Rat().Add(sheet.Dried(e.Lines[0].Target, rat("20")).Rat(), e.Lines[1].Target.Rat()).FloatString(6),
		"the base of an enlarged batch is dry, too")
	for !k.s.Batch.Finished {
		a := k.s.aim(k.s.Batch.Current())
		take(g(a.Target.Rounded(1)))
	}
	fin := k.last().(fact.Finished)
	require.Equal(t, g("155"), fin.Lines[0].Delivered)
	assert.Equal(t, g("124"), fin.Lines[0].Dry)
	assert.Equal(t, g("124")+fin.Lines[1].Delivered, fin.Base)
	assert.Equal(t, fin.Base+fin.Lines[2].Delivered, fin.Dry)

	m := k.book().Made()
	assert.Equal(t, fin.Base, m.MadeBase.Mass)
	assert.Equal(t, fin.Dry, m.MadeDry.Mass)
	assert.Equal(t, "155.0", m.Lines[0].Delivered.String())
	require.NotNil(t, m.Lines[0].Dry)
	assert.Equal(t, "124.0", m.Lines[0].Dry.String())
	for i, l := range m.Lines {
		assert.Equal(t, fin.Lines[i].Share, l.Share)
	}
	require.NotNil(t, m.Cost)
	assert.Equal(t, "0.31", m.Lines[0].Bag.Cost, "155 g of the bag at 2 a kilogram: the water was paid for, too")
	assert.Equal(t, []string{"Rutile"}, m.Cost.Missing)
	sum := new(big.Rat).Add(rat("0.31"), fin.Lines[1].Delivered.Rat().Quo(fin.Lines[1].Delivered.Rat(), rat("1000")))
	assert.Equal(t, sum.FloatString(2)+" EUR", m.Cost.Sums[0].String())
	for _, f := range k.facts {
		s.Add(fact.Fact{Seq: f.Seq + 100, Batch: f.Batch, Body: f.Body})
	}
	l, _ := s.Stock.Find("L1")
	assert.Equal(t, g("845"), l.Left, "what left the bag is what was weighed")
}

// A batch does not grow past what its bags hold.
func TestEnlargeMindsTheStock(t *testing.T) {
	p := fact.Planned{Allowed: map[string]string{"base": "1%"}, Scales: []fact.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}},
		Lines: []fact.Line{line("Quartz", "base", "60", "0.6", "bench"), line("Whiting", "base", "40", "0.4", "bench")}}
	p.Lines[0].Share, p.Lines[1].Share = "60", "40"
	with := func(has string) error {
		p.Lots = []fact.LotUsed{{Material: "Whiting", Lot: "L1", Has: g(has)}}
		b := batch.New(fact.Fact{Batch: "a"}, p)
		b.Steps[0].Delivered = g("66")
		_, err := b.Enlarge()
		return err
	}
	require.NoError(t, with("44"))
	assert.ErrorContains(t, with("42"), "more, and there is 42 g")
	assert.NoError(t, with("30"), "it was too little from the start, and a person said to go on")
}
