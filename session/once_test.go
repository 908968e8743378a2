package session

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	say "tared/session/sentence"
)

// A word that changes the record is asked about first, and one press changes nothing.
func TestAWordIsAskedAboutOnce(t *testing.T) {
	r := two(t)
	r.set("bench", "150.0")
	n := len(r.facts)
	r.must("skip")
	require.Equal(t, "skip", r.s.View().Asked.Question)
	assert.Equal(t, "decide", r.state())
	r.must("skip") // a key that bounces
	assert.ErrorIs(t, r.do("done"), ErrRefused)
	r.must("no")
	assert.Len(t, r.facts, n)
	assert.Equal(t, "26.6", r.s.View().Now.In)

	// What happens in the meantime settles it: the answer may mean something else by now.
	r.must("skip")
	r.set("bench", "208.0")
	r.set("bench", "0")
	r.set("bench", "123.4")
	assert.Nil(t, r.s.View().Asked)
	assert.ErrorIs(t, r.do("yes"), ErrRefused)

	r.must("skip")
	r.must("yes")
	assert.True(t, r.s.Batch.Steps[1].Skipped)
	assert.Equal(t, "finished", r.state())
}

// All that a word did can be taken back until the batch is closed, and is so after a
// restart too.
func TestUndoTakesBackWhatWasDecided(t *testing.T) {
	tip := func(t *testing.T, grams string) *rig {
		r := two(t)
		r.set("bench", (g("123.4") + g(grams)).Rounded(1))
		r.set("bench", "0")
		r.set("bench", "123.4")
		return r
	}
	undo := func(r *rig) {
		lines, base := len(r.facts), r.facts
		r.must("undo yes")
		was := r.s.Batch
		r.restart()
		assert.Equal(r.t, was.Steps, r.s.Batch.Steps)
		assert.Equal(r.t, base[:lines], r.facts[:lines])
	}
	t.Run("skip", func(t *testing.T) {
		r := two(t)
		r.must("skip none left")
		undo(r)
		assert.False(t, r.s.Batch.Steps[0].Skipped)
		assert.Equal(t, 0, r.s.Batch.Current())
	})
	t.Run("substitute", func(t *testing.T) {
		r := two(t)
		r.must("substitute Flint")
		undo(r)
		assert.Empty(t, r.s.Batch.Steps[0].As)
	})
	t.Run("enlarge", func(t *testing.T) {
		r := tip(t, "94.0")
		base := r.s.Batch.Base
		r.must("enlarge")
		require.NotEqual(t, g("84.6"), r.s.Batch.Steps[0].Target)
		undo(r)
		assert.Equal(t, g("84.6"), r.s.Batch.Steps[0].Target)
		assert.Equal(t, g("40.0"), r.s.Batch.Steps[1].Target)
		assert.Equal(t, base, r.s.Batch.Base)
		assert.Zero(t, r.s.Batch.Steps[0].Delivered, "the portion that caused it goes with it")
	})
	t.Run("keep, and a portion after it", func(t *testing.T) {
		r := tip(t, "94.0")
		r.must("keep")
		r.set("bench", "133.4") // 10 g of the next
		r.set("bench", "0")
		r.set("bench", "123.4")
		require.Equal(t, g("10"), r.s.Batch.Steps[1].Delivered)
		undo(r)
		assert.Zero(t, r.s.Batch.Steps[1].Delivered)
		assert.True(t, r.s.Batch.Steps[0].Kept)
		undo(r)
		assert.False(t, r.s.Batch.Steps[0].Kept)
		assert.Zero(t, r.s.Batch.Steps[0].Delivered)
		assert.ErrorIs(t, r.do("undo"), ErrRefused)
	})
	t.Run("a scale that it was moved to since stays", func(t *testing.T) {
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Whiting", "base", "40.0", "0.4", "bench"))
		r.must("yes Mara")
		r.must("skip yes")
		r.facts = append(r.facts, fact.Fact{Seq: r.s.Seq + 1, Batch: r.s.Batch.Mark,
			Body: fact.Moved{Material: "Whiting", From: "bench", To: "fine", Line: line("Whiting", "base", "40.0", "0.1", "fine")}})
		r.s = r.s.Apply(r.facts[len(r.facts)-1])
		r.must("undo yes")
		is := r.s.Batch.Steps[1]
		assert.Equal(t, "fine", is.Scale)
		assert.Equal(t, protocol.Mass(g("39.9")), is.Low)
	})
}

// Whatever happened, each question that a pan raised has a true answer: how much went in,
// and that nobody knows.
func TestEachQuestionOfAPanHasATrueAnswer(t *testing.T) {
	t.Run("so much went in", func(t *testing.T) {
		r := cameBack(t, "80.0")
		require.Equal(t, "swapped", r.s.View().Asked.Question)
		n := len(r.facts)
		r.must("typed 84g")
		require.Equal(t, "said", r.s.View().Asked.Question)
		require.Len(t, r.facts, n, "a scanner may have typed it")
		r.must("no")
		require.Equal(t, "swapped", r.s.View().Asked.Question)
		assert.ErrorIs(t, r.do("typed much"), ErrRefused)
		r.must("typed 84g")
		r.must("yes")
		p := r.portions()[0]
		assert.Equal(t, "typed", p.How)
		assert.Equal(t, g("84"), p.Delivered)
		assert.Equal(t, "84 g of Quartz went in. A person said how much it was.", r.told(p)[:54])
		assert.Equal(t, netU(g("1"), 0), p.U, "digits that nobody typed are not known")
		assert.Equal(t, "0.0", r.s.View().Now.In, "what stands there is the next container")
	})
	t.Run("nobody knows", func(t *testing.T) {
		r := cameBack(t, "80.0")
		r.must("not-known")
		p := r.portions()[0]
		assert.Equal(t, "not-known", p.How)
		assert.Equal(t, "not-known", p.Verdict)
		assert.Zero(t, p.Delivered)
		assert.Equal(t, "What went in of Quartz is not known.", r.told(p))
		v := r.s.View().Shown()
		assert.Equal(t, "Whiting", v.Now.Material, "it is not asked for again as if nothing had gone in")
		assert.Equal(t, "not-known", v.Batch.Steps[0].Verdict)
		assert.Equal(t, "what went in is not known", v.Batch.Steps[0].Mark.String())
		was := r.s.Batch
		r.restart()
		assert.Equal(t, was.Steps, r.s.Batch.Steps)

		made := r.s.Batch.Closing(true)
		assert.Equal(t, "not-known", made.Lines[0].Verdict)
		assert.Empty(t, made.Lines[0].Share)
		assert.Empty(t, made.Lines[1].Share, "of a base that nobody knows")

		r.must("undo yes")
		assert.Equal(t, "Quartz", r.s.View().Now.Material)
		assert.Zero(t, r.s.Batch.Steps[0].NotKnown)
	})
}

// told tells a portion as the record does.
func (r *rig) told(p fact.Portion) string {
	return say.Of(fact.Fact{Body: p})
}
