package session

import (
	"fmt"
	"slices"
	"strings"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/text"
)

// A second person looks at what is easily got wrong, where the workshop asks for
// that: each portion of a strong colourant, each weight that was typed. The bench
// goes on when somebody other than the one who weighed says yes; the record has
// both names. Names are typed, here as elsewhere, and prove nobody.

// confirmKinds are what a second person can be asked for.
var confirmKinds = []string{"strong", "typed"}

// CheckConfirm reads what a second person is to confirm: strong, typed, or both
// with a comma between; empty: nothing.
func CheckConfirm(s string) ([]string, error) {
	var out []string
	for _, w := range strings.Split(s, ",") {
		w = strings.ToLower(strings.TrimSpace(w))
		switch {
		case w == "" || slices.Contains(out, w):
		case !slices.Contains(confirmKinds, w):
			return nil, fmt.Errorf("%q: want strong (each portion of a strong colourant), typed (each weight that is typed), or both with a comma between", w)
		default:
			out = append(out, w)
		}
	}
	return out, nil
}

func confirmView(b *batch.Batch, k int) *AskedView {
	take := b.Takes[k]
	st := b.Steps[take.Step]
	d := places(b.Scale(st.Scale).Step)
	says := text.New("ask.confirm", text.Exact("amount", take.Delivered, d), text.Name("material", name(st)), text.Mass("target", st.Target, d))
	if st.Typed {
		says = text.New("ask.confirm-typed", text.Exact("amount", take.Delivered, d), text.Name("material", name(st)), text.Mass("target", st.Target, d))
	}
	return &AskedView{Question: "confirm", Says: says,
		Answers: []AnswerView{{"yes", text.New("ask.confirm-yes"), "name"}, {"undo", text.New("ask.confirm-undo"), ""}}}
}

// confirmed answers that question.
func (t *turn) confirmed(k int, c Command) error {
	b := t.s.Batch
	take := b.Takes[k]
	st := b.Steps[take.Step]
	who := strings.TrimSpace(c.Rest)
	switch {
	case c.Word != "yes":
		return refuse("a second person looks at the %s first: answer `yes` with their name, or `undo`", name(st))
	case who == "":
		return refuse("`yes` needs the name of the second person behind it: yes Jonas")
	case strings.EqualFold(who, take.By) || strings.EqualFold(who, b.By):
		return refuse("%s weighed it: somebody else is to look", who)
	}
	t.by = who
	t.emit(fact.Decided{Question: "confirm", Answer: "yes", Material: st.Material, With: who, Amount: take.Delivered})
	t.say("%s has looked: %s is confirmed.", who, name(st))
	t.finish()
	return nil
}
