package session

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

func TestCheckConfirm(t *testing.T) {
	for in, want := range map[string][]string{"": nil, "strong": {"strong"}, " Typed , strong,typed": {"typed", "strong"}} {
		got, err := CheckConfirm(in)
		require.NoError(t, err, in)
		assert.Equal(t, want, got, in)
	}
	_, err := CheckConfirm("base")
	assert.ErrorContains(t, err, "Give strong")
}

// confirming is a rig whose batch asks for a second person.
func confirming(t *testing.T, kinds []string, lines ...fact.Line) *rig {
	r := newRig(t, lines...)
	p := r.facts[0].Body.(fact.Planned)
	p.Confirm = kinds
	r.facts[0].Body = p
	r.s = r.start.Apply(r.facts[0])
	r.must("yes Mara")
	return r
}

func TestASecondPersonConfirms(t *testing.T) {
	r := confirming(t, []string{"strong"}, line("Copper carbonate", "strong", "5.00", "0.10", "fine"), line("Quartz", "base", "84.6", "0.8", "bench"))
	r.set("fine", "20")
	r.set("fine", "25.01")
	r.set("fine", "0")
	r.set("fine", "20")
	require.Equal(t, "decide", r.state())
	a := r.s.View().Asked
	require.Equal(t, "confirm", a.Question)
	assert.Contains(t, a.Says.String(), "5.01 g of Copper carbonate went in; the target was 5.00 g")

	// The pans go on being seen, and nothing of it becomes a portion.
	r.set("bench", "100")
	r.set("bench", "184.6")
	assert.Len(t, r.portions(), 1)
	assert.Equal(t, "decide", r.state())
	r.set("bench", "0")

	for _, no := range []string{"yes", "yes mara", "yes  Mara ", "done", "skip", "typed 3g", "keep"} {
		assert.Error(t, r.do(no), no)
	}
	r.restart() // the question is there again after a kill
	require.Equal(t, "confirm", r.s.View().Asked.Question)
	r.must("yes Jonas")
	f := r.facts[len(r.facts)-1]
	assert.Equal(t, "Jonas", f.By)
	assert.Equal(t, fact.Decided{Question: "confirm", Answer: "yes", Material: "Copper carbonate", With: "Jonas", Amount: g("5.01")}, f.Body)
	assert.Equal(t, "Mara", r.s.Batch.By, "who weighs is still who weighed")

	r.set("bench", "0")
	r.set("bench", "100")
	r.set("bench", "184.6")
	r.set("bench", "0")
	r.set("bench", "100")
	assert.Equal(t, "finished", r.state(), "a base material is not asked for")
}

func TestWhatIsNotConfirmedDoesNotCount(t *testing.T) {
	r := confirming(t, []string{"typed"}, line("Cobalt oxide", "strong", "1.30", "0.02", "eye"))
	r.must("typed 1.30g")
	require.Equal(t, "decide", r.state())
	assert.NotContains(t, r.kinds(), "finished", "the last material waits, too")
	r.must("undo yes")
	assert.Equal(t, "typed", r.s.View().Asked.Question)
	r.must("typed 1.31g")
	assert.Error(t, r.do("yes Mara"))
	r.must("yes Jonas")
	assert.Equal(t, "finished", r.state())

	// Too much is decided on first, then it is confirmed.
	r = confirming(t, []string{"typed", "strong"}, line("Cobalt oxide", "strong", "1.30", "0.02", "eye"))
	r.must("typed 1.50g")
	require.Equal(t, "overpour", r.s.View().Asked.Question)
	assert.Error(t, r.do("yes Jonas"))
	r.must("keep")
	require.Equal(t, "confirm", r.s.View().Asked.Question)
	assert.NotContains(t, r.kinds(), "finished")
	r.must("yes Jonas")
	assert.Equal(t, "finished", r.state())
}
