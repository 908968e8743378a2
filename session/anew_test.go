package session

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/plan"
	say "tared/session/sentence"
	"tared/session/text"
)

// pourAndTip takes one portion of the step in work on the bench scale.
func (r *rig) pourAndTip(grams string) {
	r.t.Helper()
	r.set("bench", "100.0")
	r.set("bench", (g("100") + g(grams)).Rounded(1))
	r.set("bench", "0")
	r.set("bench", "100.0")
}

// line100 is a line whose share is its target.
func line100(name, role, target, band string) fact.Line {
	l := line(name, role, target, band, "bench")
	l.Share = target
	return l
}

func overRig(t *testing.T) *rig {
	r := newRig(t, line100("Quartz", "base", "60", "0.6"), line100("Whiting", "base", "40", "0.4"), line100("Tin oxide", "addition", "5", "0.1"))
	r.must("yes Mara")
	return r
}

func TestTheEffectOfAnOverpourIsShownBeforeTheChoice(t *testing.T) {
	r := overRig(t)
	r.pourAndTip("66.0")
	v := r.s.View()
	require.Equal(t, "overpour", v.Asked.Question)
	words := []string{}
	for _, a := range v.Asked.Answers {
		words = append(words, a.Word)
	}
	assert.Equal(t, []string{"enlarge", "exact", "keep", "undo", "anew"}, words)
	// 66 of 106 g of base; the others as planned: 40 and 5 of 106.
	assert.Equal(t, []string{
		"Scaled up to 108.9 g: Quartz is 1.00 % over its target, where 1.00 % is allowed.",
		"Scaled up to 110.0 g: nothing is over its target.",
		"If kept: Quartz is 62.26 % of the base instead of 60.00 % (+2.26 points).",
		"If kept: Whiting is 37.74 % of the base instead of 40.00 % (−2.26 points).",
		"If kept: Tin oxide is 4.72 % of the base instead of 5.00 % (−0.28 points)."}, spokenLines(v.Asked.Lines))
	r.must("keep")
	r.pourAndTip("40.0")
	r.pourAndTip("5.0")
	f := r.last().(fact.Finished)
	assert.Equal(t, []string{"62.264", "37.736", "4.717"}, []string{f.Lines[0].Share, f.Lines[1].Share, f.Lines[2].Share}, "and so it came")
}

// The marks of the page are a step wide at least: with 1.5 g of cobalt carbonate for 1 g on a
// scale of 0.1 g a batch of 140 g would be within them, and 7.14 % over. The smallest batch
// goes by what is allowed, what is left over is told, and the size that leaves nothing is offered as well.
func TestALargerBatchHidesNothing(t *testing.T) {
	r := newRig(t, line100("Quartz", "base", "100", "1"), line100("Cobalt carbonate", "strong", "1", "0.1"))
	r.must("yes Mara")
	r.pourAndTip("100.0")
	r.pourAndTip("1.5")
	v := r.s.View()
	require.Equal(t, "overpour", v.Asked.Question)
	told := spokenLines(v.Asked.Lines)
	assert.Contains(t, told, "Scaled up to 147.1 g: Cobalt carbonate is 2.00 % over its target, where 2.00 % is allowed.")
	assert.Contains(t, told, "Scaled up to 150.0 g: nothing is over its target.")
	r.must("exact")
	assert.Equal(t, g("150"), r.s.Batch.Base)
	assert.Equal(t, "3/2", r.facts[len(r.facts)-1].Body.(fact.Enlarged).Factor)
	r.must("undo")
	r.must("yes")
	assert.Equal(t, g("100"), r.s.Batch.LineOf("Quartz").Target)
}

func TestATopUpThatOvershootsEnlargesAgain(t *testing.T) {
	r := overRig(t)
	r.pourAndTip("60.0")
	r.pourAndTip("44.0")
	r.must("enlarge")
	first := r.s.Batch.Base
	require.Equal(t, "Quartz", r.s.View().Now.Material, "it is topped up")
	r.pourAndTip("12.0")
	require.Equal(t, "overpour", r.s.View().Asked.Question)
	assert.Contains(t, fmt.Sprint(r.s.View().Asked.Lines), "of Whiting. Scaled up to")
	r.must("enlarge")
	assert.Greater(t, r.s.Batch.Base, first)
	for !r.s.Batch.Finished {
		a := r.s.aim(r.s.Batch.Current())
		r.pourAndTip(a.Target.Rounded(1))
	}
	for _, l := range r.last().(fact.Finished).Lines {
		assert.Equal(t, "in", l.Verdict, l.Material)
	}
	r.restart()
}

func TestEnlargingKeepsToWhatWasStated(t *testing.T) {
	r := overRig(t)
	r.s.Batch.Plan.Most = g("108")
	r.pourAndTip("66.0")
	v := r.s.View()
	assert.Equal(t, "keep", v.Asked.Answers[0].Word, "enlarging is not offered")
	assert.Contains(t, spoken(v.Asked.Lines[0]), "108")
	err := r.do("enlarge")
	require.ErrorIs(t, err, ErrRefused)
	assert.Contains(t, err.Error(), "the limit set is")

	// A container of 60 g leaves 2 g on a scale of 62 g: one portion is 2 g at most,
	// and more than twenty of them are refused.
	r = overRig(t)
	r.s.Batch.Plan.Container = g("60")
	r.s.Batch.Plan.Scales[0].Max = g("62")
	r.s.Batch.Steps[0].Delivered = g("66")
	_, err = r.s.Batch.Enlarge()
	require.ErrorContains(t, err, "portions")
	r.s.Batch.Plan.Container = 0
	_, err = r.s.Batch.Enlarge()
	require.NoError(t, err)
}

func TestTheBatchIsBegunOnceMore(t *testing.T) {
	r := overRig(t)
	r.s.Batch.Plan.Lots = []fact.LotUsed{{Material: "Quartz", Lot: "L1", Has: g("100")}}
	r.pourAndTip("66.0")
	c := ParseCommand("anew the bag slipped")
	require.ErrorIs(t, r.input(Input{At: r.now, Command: &c}), ErrRefused, "the bench gives the mark")
	c.mark = "260302c"
	require.NoError(t, r.input(Input{At: r.now, Command: &c}))
	b := r.s.Batch
	assert.Equal(t, []string{"260302c", "260302a"}, []string{b.Mark, b.Plan.Again})
	assert.Equal(t, g("34"), b.Plan.Lots[0].Has, "what was spoiled is gone from the bag")
	assert.Equal(t, []string{"overpoured", "decided", "noted", "finished", "planned"}, r.kinds()[len(r.kinds())-5:])
	assert.Equal(t, "container", r.state(), "mask and ventilation were asked for a moment ago")
	r.restart()
	r.pourAndTip("60.0")
	assert.Equal(t, []string{"Quartz", "60.0"}, []string{r.lastPortion().Material, r.lastPortion().Delivered.Grams(1)})

	all := r.books()
	old, next := all.Find("260302a").Made(), all.Find("260302c").Made()
	assert.Equal(t, book.Abandoned, old.State)
	assert.Equal(t, "260302a", next.Again)
	assert.Equal(t, old.Recipe, next.Recipe)
	said := ""
	for _, f := range r.facts {
		said += say.Of(f) + "\n"
	}
	assert.Contains(t, said, "Note: the bag slipped")
	assert.Contains(t, said, "takes the place of 260302a, which was spoiled")

	// A batch that is not over needs a reason.
	r = overRig(t)
	c = Command{Word: "anew", mark: "260302c"}
	require.ErrorContains(t, r.input(Input{At: r.now, Command: &c}), "Give a reason")
}

// cupRig is a series of three cups whose first is mixed, and in work.
func cupRig(t *testing.T, spare string) *rig {
	r := seriesRig(t, plan.Series{Cup: "100g", Spare: spare, Vary: []plan.Addition{{Material: "Rutile", Levels: "2 4 6"}}})
	for r.s.Batch.Mark == "260302a" {
		r.onTarget()
	}
	r.must("yes")
	require.Equal(t, "260302a-1", r.s.Batch.Mark)
	return r
}

// A cup that was spoiled is closed, and another one takes its place in the series,
// with a mark of its own; what went into the first is out of the tub.
func TestACupIsBegunOnceMore(t *testing.T) {
	r := cupRig(t, "60%") // 489.6 g for three cups of 102 g
	assert.Equal(t, g("489.6"), r.s.Series.Left)
	r.onTarget()
	r.onTarget()
	require.Equal(t, "260302a-2", r.s.Batch.Mark)
	assert.Equal(t, g("387.6"), r.s.Series.Left)
	r.onTarget()
	r.fine(g("4.40")) // of rutile; 4.00 g were wanted
	v := r.s.View()
	require.Equal(t, "overpour", v.Asked.Question)
	last := v.Asked.Answers[len(v.Asked.Answers)-1]
	assert.Equal(t, AnswerView{"anew", text.New("ask.over-anew-cup"), ""}, last)
	assert.Equal(t, "If started again: the tub should hold about 285.60 g, and this cup and the one to come need 204.00 g.", spoken(v.Asked.Lines[len(v.Asked.Lines)-1]))
	r.must("anew")
	b := r.s.Batch
	assert.Equal(t, []string{"260302a-2a", "260302a-2"}, []string{b.Mark, b.Plan.Again})
	assert.EqualValues(t, 2, b.Plan.Series.Cup)
	assert.True(t, b.Reminded)
	assert.Equal(t, "common mix of 260302a", r.s.View().Now.Material, "the tub was mixed already")
	r.restart()
	r.onTarget()
	assert.ErrorContains(t, r.do("anew the scoop fell in"), "20.40 g short")
	r.must("anew short the scoop fell in")
	assert.Equal(t, "260302a-2c", r.s.Batch.Mark)
	assert.Equal(t, g("183.6"), r.s.Series.Left)
	assert.Equal(t, g("183.6"), r.s.Batch.Plan.Mixes[0].Left)
	r.onTarget()

	// A third time there is too little left for this very cup.
	err := r.do("anew it smells")
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "should hold about 81.60 g, and a cup needs 102.00 g")
	assert.ErrorContains(t, err, "plan a batch of its own")
	r.onTarget()
	require.Equal(t, "260302a-3", r.s.Batch.Mark, "the series goes on")
	said := r.s.View().Said
	assert.Contains(t, said[0].Says.String(), "The tub should hold about 81.6 g, and this cup needs 102.0 g.")

	all := r.books()
	assert.Equal(t, []book.State{book.Abandoned, book.Abandoned, book.Finished},
		[]book.State{all.Find("260302a-2").Made().State, all.Find("260302a-2a").Made().State, all.Find("260302a-2c").Made().State})
	s, ok := all.Series("260302a-2")
	require.True(t, ok)
	assert.Equal(t, "260302a-2c", s.Grids[0].Cells[0][1].Cup, "the last one stands in the grid")
	told := ""
	for _, f := range r.facts {
		told += say.Of(f) + "\n"
	}
	for _, words := range []string{"Too much Rutile spoiled the batch, so it was started again", "Note: too much Rutile was tipped", "takes the place of 260302a-2, which was spoiled",
		"The batch was spoiled, so it was started again", "Note: the scoop fell in"} {
		assert.Contains(t, told, words)
	}
}

func TestAShortTubIsSaidBeforeACupIsBegunOnceMore(t *testing.T) {
	r := cupRig(t, "5%") // 321.3 g for three cups of 102 g
	r.onTarget()
	err := r.do("anew the bag was damp")
	require.ErrorIs(t, err, ErrRefused)
	assert.ErrorContains(t, err, "should hold about 219.30 g, and this cup and those to come need 306.00 g: the last would be 86.70 g short.")
	assert.ErrorContains(t, err, "`anew short`")
	assert.ErrorContains(t, r.do("anew short"), "Give a reason")
	r.fine(g("2.40")) // now it is asked, and said there
	lines := r.s.View().Asked.Lines
	assert.Contains(t, spoken(lines[len(lines)-1]), "86.70 g short")
	r.must("undo yes")
	r.must("anew short the bag was damp")
	assert.Equal(t, "260302a-1a", r.s.Batch.Mark)
	assert.Equal(t, "Note: the bag was damp", say.Of(r.facts[len(r.facts)-3]))
	assert.Equal(t, "common mix of 260302a", r.s.View().Now.Material, "it was mixed for the first cup")
	r.onTarget()
	r.onTarget()
	assert.Equal(t, "260302a-2", r.s.Batch.Mark)
}

// A cup is not enlarged beyond what its tub holds.
func TestACupGrowsNoLargerThanItsTub(t *testing.T) {
	r := cupRig(t, "5%") // 321.3 g for three cups of 102 g
	for r.s.Batch.Mark != "260302a-3" {
		r.onTarget()
	}
	r.onTarget()
	r.fine(g("6.50")) // of rutile; 6.00 g were wanted: 110 g of the mix would do
	require.Equal(t, "enlarge", r.s.View().Asked.Answers[0].Word)
	r.must("undo yes")
	r.fine(g("7.50")) // 125 g would, and the tub has 15.3 g
	v := r.s.View()
	assert.Equal(t, "keep", v.Asked.Answers[0].Word)
	assert.Contains(t, spoken(v.Asked.Lines[0]), "more, and there is 15.3 g")
	require.ErrorContains(t, r.do("enlarge"), "there is 15.3 g")
}

// A record of before the tub was counted: what the cups were to take is out of it.
func TestATubThatNobodyCounted(t *testing.T) {
	r := cupRig(t, "60%")
	r.onTarget()
	r.onTarget()
	f := r.facts[len(r.facts)-2]
	p := f.Body.(fact.Planned)
	require.Equal(t, g("387.6"), p.Mixes[0].Left)
	p.Mixes = append([]fact.Mix(nil), p.Mixes...)
	p.Mixes[0].Left = 0
	f.Body = p
	assert.Equal(t, g("387.6"), r.s.Apply(f).Series.Left)
}

func TestTheBenchGivesTheMarkOfABatchBegunOnceMore(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	b, stop := benchOn(t, dir)
	first, err := b.Start(ctx, plan.Request{Recipe: recipeText, Base: "750g", Container: "120g", Most: "2kg", By: "Mara"})
	require.NoError(t, err)
	require.NoError(t, b.Do(ctx, Command{Word: "yes", Rest: "Mara"}))
	require.NoError(t, b.Do(ctx, Command{Word: "anew", Rest: "wrong bucket"}))
	require.NoError(t, b.Do(ctx, Command{Word: "anew", Rest: "and again"}))
	mark, opened, ok, err := b.Open(ctx)
	require.NoError(t, err)
	require.True(t, ok)
	assert.NotEqual(t, first, mark)
	assert.NotEqual(t, first, opened.Again)
	assert.Equal(t, []string{"120 g", "2000 g"}, []string{opened.Container.String(), opened.Most.String()})
	stop()

	b, stop = benchOn(t, dir)
	defer stop()
	again, _, ok, err := b.Open(ctx)
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, mark, again, "a restart stands in the last one")
	_, err = b.Start(ctx, plan.Request{Recipe: recipeText, Base: "750g"})
	require.ErrorIs(t, err, ErrRefused)
	require.NoError(t, b.Do(ctx, Command{Word: "abandon", Rest: "test"}))
	_, err = b.Start(ctx, plan.Request{Recipe: recipeText, Base: "750g", Most: "500g"})
	require.ErrorContains(t, err, "the limit set is")
}
