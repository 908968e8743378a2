package session

import (
	"math/big"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/sheet"
)

// An invented recipe with its first water.
const wetWhite = "# Tile white, invented\nQuartz 60\nBall clay 40\nWater 85%\n+ Tin oxide 5\n"

func TestWaterOnTheBench(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: wetWhite, Base: "200g"})
	require.Equal(t, g("210"), r.s.Batch.Dry, "water is no part of the dry mass")
	require.Len(t, r.s.Batch.Lines, 3)
	require.Equal(t, g("178.5"), r.s.Batch.WaterStep().Target, "85 %% of 210 g")
	for _, w := range reminded(r.s) {
		assert.NotContains(t, w, "Water")
	}
	r.take("121.0") // a gram more than its target, and in the band
	r.take("80.0")
	r.take("10.0")
	st := r.s.Batch.WaterStep()
	assert.Equal(t, g("179.35"), st.Target, "85 %% of the 211 g that went in")
	v := r.s.View()
	assert.Equal(t, "Water", v.Now.Material)
	assert.Equal(t, "water", v.Now.Role)
	assert.Contains(t, spoken(v.Now.Detail), "cannot be taken out")

	p := r.take("179.3")
	assert.Equal(t, "in", p.Verdict)
	f, ok := r.last().(fact.Finished)
	require.True(t, ok, "the batch is closed when the water is in: %v", r.kinds())
	assert.Equal(t, g("211"), f.Dry)
	assert.Equal(t, g("179.3"), f.Water.Delivered)
	assert.Equal(t, "84.976", f.Water.Share, "179.3 in 211")
	assert.Contains(t, spoken(r.s.View().Now.Detail), "overnight")
	r.restart()

	m := r.book().Made()
	require.NotNil(t, m.Water)
	assert.Equal(t, "179.3", m.Water.Delivered.String())
	assert.Equal(t, "in", m.Water.Verdict)
	assert.Len(t, m.Lines, 3, "it is no line of the recipe")
	a := r.book().After(r.now, nil)
	assert.Equal(t, "179.3", a.Water.Weighed)
	assert.Contains(t, a.Due, "thickens overnight")
	assert.Contains(t, r.book().After(r.now.Add(13*time.Hour), nil).Due, "has been in its water overnight")
}

func TestTooMuchWater(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: wetWhite, Base: "200g"})
	r.take("120.0")
	r.take("80.0")
	r.take("10.0")
	r.set("bench", "300.0")
	assert.Equal(t, "over", r.state())
	assert.Contains(t, spoken(r.s.View().Now.Detail), "Pour it off")
	r.set("bench", "0")
	r.set("bench", "100.0")
	v := r.s.View()
	require.NotNil(t, v.Asked)
	assert.Equal(t, []string{"keep", "undo"}, answerWords(*v), "no larger batch is offered")
	assert.Contains(t, spoken(v.Asked.Lines[0]), "cannot be taken out")
	assert.ErrorIs(t, r.do("enlarge"), ErrRefused)
	r.must("keep it was the wrong jug")
	f := r.last().(fact.Finished)
	assert.Equal(t, "over", f.Water.Verdict)
	assert.Equal(t, "over", r.book().Made().Water.Verdict)
}

func TestWaterFollowsTheBatch(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: wetWhite, Base: "200g"})
	r.take("132.0") // a tenth too much
	r.must("enlarge")
	for range 2 {
		left, _, _ := r.s.Batch.Steps[r.s.Batch.Current()].Left()
		r.take(left.Rounded(1))
	}
	st := r.s.Batch.WaterStep()
	dry := new(big.Rat)
	for _, w := range r.s.Batch.Deliveries() {
		dry.Add(dry, w.Delivered.Rat())
	}
	want := dry.Mul(dry, big.NewRat(85, 100))
	assert.Equal(t, want.FloatString(4), st.Target.Rat().FloatString(4))
	// Left out, and the batch is closed without it.
	r.must("skip it gets its water tomorrow")
	f := r.last().(fact.Finished)
	assert.Equal(t, "skipped", f.Water.Verdict)
	assert.Contains(t, r.book().Made().Words, "The first water was left out.")
	assert.Contains(t, r.book().After(r.now, nil).Due, "No water is recorded yet")
}

func TestWaterInPortions(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: wetWhite, Base: "3kg", Container: "100g"})
	for range 20 {
		if r.s.View().Now.Role == "water" || !r.s.open() {
			break
		}
		r.take(r.s.View().Now.Target)
	}
	require.Equal(t, "water", r.s.View().Now.Role)
	require.Equal(t, 2, r.s.View().Now.Portions, "2.7 kg of water, and the scale holds 2 kg with the container")
	r.take(r.s.View().Now.Target)
	require.True(t, r.s.open())
	r.take(r.s.View().Now.Target)
	require.False(t, r.s.open())
	assert.Equal(t, "in", r.last().(fact.Finished).Water.Verdict)
	assert.Equal(t, 2, r.book().Made().Water.Portions)
}

// A cup of a series gets its own water, the tub none.
func TestWaterInASeries(t *testing.T) {
	scales := []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}}
	sh, err := plan.Request{Recipe: "Quartz 60\nBall clay 40\nWater 85%\n", Series: &plan.Series{Cup: "100g", Vary: []plan.Addition{{Material: "Rutile", Levels: "0 10"}}}}.Sheet(scales)
	require.NoError(t, err)
	assert.Nil(t, sh.Water)
	p := planned(sh, "Quartz 60\nBall clay 40\nWater 85%\n", scales, false)
	require.Len(t, p.Series.Plans, 2)
	assert.Zero(t, p.Water)
	assert.Equal(t, g("85"), p.Series.Plans[0].Water.Target)
	assert.Equal(t, g("93.5"), p.Series.Plans[1].Water.Target, "of 110 g")
	tub := batch.New(fact.Fact{Batch: "260302a"}, p)
	tub.Apply(fact.Fact{Seq: 2, Body: fact.Portion{Material: "Quartz", Delivered: g("126")}})
	tub.Apply(fact.Fact{Seq: 3, Body: fact.Portion{Material: "Ball clay", Delivered: g("84")}})
	run := &batch.Series{Tub: tub}
	c, err := run.Cup(true)
	require.NoError(t, err)
	b := batch.New(fact.Fact{Batch: "260302a-1", By: "Mara"}, c)
	require.NotNil(t, b.WaterStep())
	assert.Equal(t, g("85"), b.WaterStep().Target)
}

// What the journal says of the water must not depend on when it is read.
func TestFirstWater(t *testing.T) {
	l := line("Water", "water", "85", "2", "bench")
	assert.Equal(t, l, batch.FirstWater(l, g("100"), 0), "nothing dry: as planned")
	n := batch.FirstWater(l, g("100"), g("200"))
	assert.Equal(t, g("170"), n.Target)
	assert.Equal(t, g("168"), n.Low)
	assert.Equal(t, g("172"), n.High)
}

// Water is counted on what is dry: the moisture of a clay is none of it.
func TestWaterOfAMoistBatch(t *testing.T) {
	r := aliquotRig(t, plan.Request{Recipe: "Quartz 60\nBall clay 40\nWater 85%\n", Base: "200g", Moist: map[string]string{"Ball clay": "20%"}})
	require.Equal(t, g("200"), r.s.Batch.Dry)
	for r.s.Batch.Steps[r.s.Batch.Current()].Role != "water" {
		left, _, _ := r.s.Batch.Steps[r.s.Batch.Current()].Left()
		r.take(left.Rounded(1))
	}
	assert.Equal(t, g("170"), r.s.Batch.WaterStep().Target, "85 %% of 200 g, not of the 220 g that were weighed")
	r.take("170.0")
	f := r.last().(fact.Finished)
	assert.Equal(t, "85.000", f.Water.Share)
}
