package session

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/question"
	say "tared/session/sentence"
	"tared/session/text"
)

// quartz is a material of an invented batch.
var quartz = line("Quartz", "base", "84.6", "0.8", "bench")

// raising brings a bench to where each question is asked, by its key: every answer that
// the question has is offered in at least one of the ways.
var raising = map[string][]func(t *testing.T) *rig{
	"paused": {func(t *testing.T) *rig {
		r := two(t)
		r.must("pause")
		return r
	}},
	"reminder": {func(t *testing.T) *rig { return newRig(t, quartz) }},
	"skip": {func(t *testing.T) *rig {
		r := two(t)
		r.must("skip")
		return r
	}, func(t *testing.T) *rig { // nobody knows its share
		r := begin(t, fact.Line{Material: "Quartz", Target: g("84.6"), Low: g("83.8"), High: g("85.4"), Scale: "bench"})
		r.must("skip")
		return r
	}},
	"undo": {func(t *testing.T) *rig {
		r := two(t)
		r.pourAndTip("84.6")
		r.must("undo")
		return r
	}, func(t *testing.T) *rig {
		r := two(t)
		r.must("skip yes")
		r.must("undo")
		return r
	}, func(t *testing.T) *rig {
		r := two(t)
		r.must("substitute Flint")
		r.must("undo")
		return r
	}, func(t *testing.T) *rig {
		r := two(t)
		r.pourAndTip("94.0")
		r.must("keep")
		r.must("undo")
		return r
	}, func(t *testing.T) *rig {
		r := two(t)
		r.pourAndTip("94.0")
		r.must("enlarge")
		r.must("undo")
		return r
	}},
	"done": {func(t *testing.T) *rig {
		r := two(t)
		r.set("bench", "208.0")
		r.must("done")
		return r
	}, func(t *testing.T) *rig {
		r := two(t)
		r.set("bench", "208.0")
		r.set("bench", "0")
		r.must("done")
		return r
	}, func(t *testing.T) *rig {
		r := newRig(t, quartz)
		r.must("yes Mara")
		r.rest("bench", 2*time.Second)
		r.must("done")
		return r
	}},
	"same": {func(t *testing.T) *rig {
		r := two(t)
		r.lose("bench")
		r.step = g("0.01")
		r.say("bench", protocol.Yes)
		require.Equal(t, anotherScale, r.s.View().Now.Blind)
		r.must("same")
		return r
	}},
	"lines": {func(t *testing.T) *rig {
		r := two(t)
		r.s.Batch.Plan.Scales[0].Format = "header-comma-mode"
		c := change{s: r.s, at: r.now}
		c.Weigh(r.s.pan("bench"), question.Weighing{Before: g("208.0"), After: g("123.4"), How: "tipped", Raw: []string{"ST,GS,+   208.0 g", "ST,GS,+   120.4 g"}})
		require.Empty(t, c.facts, "nothing is recorded")
		r.s = c.s
		return r
	}},
	"said": {func(t *testing.T) *rig {
		r := cameBack(t, "80.0")
		r.must("typed 60g")
		return r
	}},
	"overpour": {func(t *testing.T) *rig {
		r := overRig(t)
		r.pourAndTip("40.0")
		r.must("skip yes")
		r.pourAndTip("44.0")
		return r
	}, func(t *testing.T) *rig {
		r := overRig(t)
		r.pourAndTip("66.0")
		return r
	}},
	"confirm": {func(t *testing.T) *rig {
		r := confirming(t, []string{"strong"}, line("Copper carbonate", "strong", "5.00", "0.10", "bench"), quartz)
		r.pourAndTip("5.0")
		return r
	}},
	"mix": {func(t *testing.T) *rig {
		r := aliquotRig(t, plan.Request{Recipe: blue, Base: "300g", Aliquot: []string{"cobalt CARBONATE"}})
		for r.s.View().Asked == nil {
			r.take(r.s.aim(r.s.Batch.Current()).Target.Rounded(1))
		}
		return r
	}},
	"typed": {func(t *testing.T) *rig {
		return begin(t, line("Copper carbonate", "strong", "2.50", "0.05", "eye"), quartz)
	}},
	"which": {func(t *testing.T) *rig {
		r := begin(t, quartz, line("Whiting", "base", "40.0", "0.4", "fine"))
		r.set("fine", "20.00")
		r.flow("fine", "50.00", 50)
		return r
	}},
	"early": {func(t *testing.T) *rig {
		r := begin(t, quartz, line("Whiting", "base", "40.0", "0.4", "bench"))
		r.set("bench", "100.0")
		r.flow("bench", "140.0", 50)
		r.must("skip yes")
		r.rest("bench", time.Second)
		return r
	}},
	"strayed": {func(t *testing.T) *rig {
		r := begin(t, line("Copper carbonate", "strong", "2.50", "0.05", "fine"), line("Whiting", "base", "40.0", "0.4", "bench"))
		r.set("bench", "100.0")
		r.set("bench", "130.0")
		r.set("bench", "0")
		return r
	}},
	"tare": {func(t *testing.T) *rig {
		r := two(t)
		r.set("bench", "160.0")
		r.lose("bench")
		r.jump("bench", "170.0")
		r.rest("bench", 2*time.Second)
		return r
	}},
	"gone": {func(t *testing.T) *rig {
		r := two(t)
		r.set("bench", "208.0")
		r.lose("bench")
		r.jump("bench", "123.5")
		r.rest("bench", 2*time.Second)
		return r
	}},
	"lighter": {func(t *testing.T) *rig {
		r := newRig(t, quartz, line("Whiting", "base", "40.0", "0.4", "bench"))
		r.must("yes Mara")
		r.set("bench", "153.4")
		r.set("bench", "0")
		r.set("bench", "123.4")
		return r
	}},
	"swapped": {func(t *testing.T) *rig { return cameBack(t, "80.0") }},
	"heavier": {func(t *testing.T) *rig { return cameBack(t, "260.0") }},
	"little":  {func(t *testing.T) *rig { return cameBack(t, "207.7") }},
	"thing": {func(t *testing.T) *rig {
		r := cameBack(t, "141.5")
		r.must("keep")
		r.set("bench", "123.5")
		return r
	}},
	"partly": {func(t *testing.T) *rig { return cameBack(t, "141.5") }},
	"crept": {func(t *testing.T) *rig {
		r := newRig(t, quartz)
		r.must("yes Mara")
		r.rest("bench", 2*time.Second)
		for i := range 60 {
			r.jump("bench", (protocol.Mass(i+1) * g("0.5")).Grams(1))
			r.say("bench", protocol.No)
		}
		r.rest("bench", 1500*time.Millisecond)
		return r
	}},
	"unsettled": {func(t *testing.T) *rig {
		r := two(t)
		for i := range 20 {
			r.jump("bench", (g("123.4") + protocol.Mass(i)*g("4.2")).Grams(1))
			r.say("bench", protocol.No)
		}
		r.jump("bench", "0")
		r.say("bench", protocol.No)
		r.set("bench", "123.5")
		return r
	}},
}

// cameBack lifts a full container and puts this on the scale.
func cameBack(t *testing.T, weight string) *rig {
	r := two(t)
	r.set("bench", "208.0")
	r.set("bench", "0")
	r.set("bench", weight)
	return r
}

// behind is what an answer needs behind it.
var behind = map[string]string{"name": "Jonas", "mass": "2.50g"}

// TestEachAnswerIsTakenAndTold asks every question, gives every answer that it has, and
// reads what the record says of it.
func TestEachAnswerIsTakenAndTold(t *testing.T) {
	for _, q := range question.All {
		offered := map[string]bool{}
		require.NotEmpty(t, raising[q.Key], "%s: no test asks it", q.Key)
		for _, raise := range raising[q.Key] {
			asked := raise(t).s.View().Asked
			require.NotNil(t, asked, q.Key)
			require.Equal(t, q.Key, asked.Question)
			check(t, q.Key, append([]text.Message{asked.Says}, asked.Lines...)...)
			for _, a := range asked.Answers {
				offered[a.Word] = true
				check(t, q.Key+" "+a.Word, a.Label)
				r := raise(t)
				before := len(r.facts)
				check(t, q.Key, r.s.View().Now.Headline)
				if a.Word == question.Undo && len(r.s.Batch.Takes) == 0 {
					continue
				}
				if asked.Question != "said" && a.Needs == "mass" && asked.Question != "typed" { // a scanner may have typed it
					r.must(a.Word + " " + behind["mass"])
					require.Len(t, r.facts, before)
					a = AnswerView{Word: question.Yes}
				}
				c := ParseCommand(strings.TrimSpace(a.Word + " " + behind[a.Needs]))
				k := slices.IndexFunc(q.Answers, func(own question.Answer) bool { return own.Word == a.Word && own.Sure != nil })
				if (vocabulary[a.Word].once || k >= 0) && c.Rest == "" {
					c.Rest = question.Yes // else it is asked whether it is meant
				}
				if a.Word == question.Anew {
					c.mark = "260302z"
					c.Rest = "the bag slipped"
				}
				require.NoError(t, r.input(Input{At: r.now, Command: &c}), "%s: %s is offered and refused", q.Key, a.Word)
				if a.Word == question.No { // what was pressed was not meant
					require.Len(t, r.facts, before, "%s: a stray press changes nothing", q.Key)
				} else {
					require.Greater(t, len(r.facts), before, "%s: %s records nothing", q.Key, a.Word)
				}
				for _, f := range r.facts[before:] {
					told := say.Of(f)
					assert.NotContains(t, told, "[", "%s: %s", q.Key, a.Word)
					assert.NotContains(t, told, "Asked “", "%s: %s has no sentence of its own", q.Key, a.Word)
					if d, ok := f.Body.(fact.Decided); ok && d.Question == q.Key {
						assert.Equal(t, a.Word, d.Answer)
					}
				}
				if v := r.s.View().Asked; v != nil {
					assert.NotEqual(t, asked.Says, v.Says, "%s: %s does not answer it", q.Key, a.Word)
				}
			}
			for word := range vocabulary {
				if w := vocabulary[word]; !w.always && !w.midway && !offeredBy(asked, word) {
					assert.ErrorIs(t, raise(t).do(word), ErrRefused, "%s: %s is not offered and taken", q.Key, word)
				}
			}
		}
		for _, a := range q.Answers {
			assert.True(t, offered[a.Word], "%s: %s is never offered", q.Key, a.Word)
			if a.Do == nil {
				assert.Contains(t, vocabulary, a.Word, "%s: nothing carries it out", q.Key)
			}
		}
	}
	assert.Len(t, raising, len(question.All), "a question that is no more")
}

func check(t *testing.T, what string, all ...text.Message) {
	t.Helper()
	for _, m := range all {
		assert.False(t, m.None(), what)
		assert.NoError(t, text.English.Check(m), what)
	}
}

func offeredBy(v *AskedView, word string) bool {
	for _, a := range v.Answers {
		if a.Word == word || v.Question == "mix" && word == "done" {
			return true
		}
	}
	return false
}

// TestKeysOfQuestions: journals and programs know them.
func TestKeysOfQuestions(t *testing.T) {
	keys := map[string]bool{}
	for _, q := range question.All {
		assert.False(t, keys[q.Key], "%s is there twice", q.Key)
		keys[q.Key] = true
		assert.Same(t, q, question.Called(q.Key))
	}
	for _, known := range []string{"reminder", "paused", "overpour", "confirm", "mix", "typed", "tare", "gone", "lighter", "swapped", "heavier", "thing",
		"partly", "crept", "unsettled", "little", "which", "early", "strayed"} {
		assert.True(t, keys[known], known)
	}
}
