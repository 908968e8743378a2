package session

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/text"
)

// keyless names a key that a sentence of the view tells somebody to press and that does
// nothing there; "" where there is none.
func keyless(v View) string {
	all := append([]text.Message{v.Now.Headline, v.Recording.Why}, v.Now.Detail...)
	for _, n := range v.Said {
		if n.At.Equal(v.At) { // later the bench may have moved on
			all = append(all, n.Says)
		}
	}
	for _, m := range all {
		for _, value := range m.Values {
			if !slices.ContainsFunc(letters, func(k KeyView) bool { return k.Word == value.Name }) {
				continue
			}
			var read struct {
				Values map[string]struct{ Key string }
			}
			if b, err := json.Marshal(m); err != nil || json.Unmarshal(b, &read) != nil || read.Values[value.Name].Key == "" {
				continue // no key, but a value of that name
			}
			if !slices.ContainsFunc(v.Keys, func(k KeyView) bool { return k.Word == value.Name && k.Key == letter(k.Word).Key }) {
				return fmt.Sprintf("%s: %q names a key that is not there", v.Now.State, m)
			}
		}
	}
	return ""
}

func keyFor(v View, w string) KeyView {
	i := slices.IndexFunc(v.Keys, func(k KeyView) bool { return k.Word == w })
	if i < 0 {
		return KeyView{}
	}
	return v.Keys[i]
}

// What changes the record is held wherever it is offered, as a key and as an answer;
// what only answers, or can be told again, is not.
func TestWhatChangesTheRecordIsHeld(t *testing.T) {
	r := newRig(t, line("Whiting", "base", "60", "0.6", "bench"), line("Quartz", "base", "40", "0.4", "bench"))
	v := r.s.View()
	assert.False(t, keyFor(*v, "yes").Hold)
	assert.Equal(t, "name", keyFor(*v, "yes").Needs)
	assert.Empty(t, keyFor(*v, "done").Word, "before the reminder nothing is weighed")
	assert.Equal(t, KeyView{Word: "abandon", Label: text.New("key.abandon"), Needs: "reason", Hold: true, Seldom: true}, keyFor(*v, "abandon"))
	r.must("yes Mara")
	r.set("bench", "0")
	r.set("bench", "118.4")
	r.set("bench", "178.4")
	v = r.s.View()
	require.Equal(t, "in", v.Now.State)
	assert.Contains(t, v.Now.Detail[0].String(), "Hold D.")
	assert.Equal(t, "key.done", keyFor(*v, "done").Label.Code)
	for _, held := range []string{"done", "skip", "abandon", "anew"} {
		assert.True(t, keyFor(*v, held).Hold, held)
	}
	assert.Empty(t, keyFor(*v, "undo").Word, "nothing to strike out")
	r.set("bench", "0")
	assert.Equal(t, "key.done-lifted", keyFor(*r.s.View(), "done").Label.Code)
	r.set("bench", "118.4")
	v = r.s.View()
	assert.True(t, keyFor(*v, "undo").Hold)
	for _, at := range []string{"pause", "note", "by", "substitute", "anew", "abandon"} {
		assert.True(t, keyFor(*v, at).Seldom, at)
	}

	// Too much: the answers that strike out or begin again are held, the others not.
	r.set("bench", "160.4")
	r.set("bench", "0")
	r.set("bench", "118.4")
	v = r.s.View()
	require.Equal(t, "decide", v.Now.State)
	for _, a := range v.Asked.Answers {
		assert.Equal(t, a.Word == "undo" || a.Word == "anew", keyFor(*v, a.Word).Hold, a.Word)
	}
}

// The walk sees a sentence whose key is missing.
func TestAMissingKeyIsSeen(t *testing.T) {
	v := View{Now: NowView{State: "in", Detail: []text.Message{text.New("bench.good-more", key("done"))}}}
	assert.NotEmpty(t, keyless(v))
	v.Keys = []KeyView{letter("done")}
	assert.Empty(t, keyless(v))
	v.Now.Headline = text.New("ask.mix-then", text.Exact("done", protocol.Gram, 1))
	assert.Empty(t, keyless(v))
}
