package session

import (
	"cmp"
	"slices"
	"time"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/question"
	"tared/session/text"
)

// change is one call of Next at work: the state as it becomes, and the facts that make
// it so.
type change struct {
	s     State
	at    time.Time
	by    string // who acts; empty: the operator
	facts []fact.Fact
}

// Record records a fact and lets it act at once.
func (t *change) Record(body fact.Body) {
	by := t.by
	mark := ""
	if b := t.s.Batch; b != nil {
		mark = b.Mark
		if by == "" {
			by = b.By
		}
	}
	t.put(mark, by, body)
}

// put records a fact of a batch. Who it was is never left empty.
func (t *change) put(mark, by string, body fact.Body) {
	f := fact.Fact{Seq: t.s.Seq + 1, At: t.at, Batch: mark, By: cmp.Or(by, fact.NotNamed), Body: body}
	t.facts = append(t.facts, f)
	t.s = t.s.Apply(f)
}

// noticesKept is how many notices a view shows.
const noticesKept = 5

// Tell tells the potter something that needs no answer.
func (t *change) Tell(m text.Message) {
	t.s.said = append([]Notice{{t.at, m}}, t.s.said[:min(len(t.s.said), noticesKept-1)]...)
}

// ask raises a question about a pan; raw are the lines that it rests on.
func (t *change) ask(q *question.Question, p *pan.Pan, before, after protocol.Mass, raw ...string) {
	t.raise(question.Case{Question: q, Scale: p.Name(), Before: before, After: after, Raw: raw, Carried: p.Carried()})
}

// raise puts a case in place of what a pan raised before, and of an answer to it.
func (t *change) raise(c question.Case) {
	if was := t.s.asked; t.s.meant == question.Said && (was.Question != c.Question || was.Scale != c.Scale) {
		t.s.meant = ""
	}
	t.s.asked = c
}

// settleQuestion drops what is asked about a scale; of some questions only, where they
// are named.
func (t *change) settleQuestion(scale string, only ...*question.Question) {
	if q := t.s.asked; q.Question != nil && q.Scale == scale && (len(only) == 0 || slices.Contains(only, q.Question)) {
		t.raise(question.Case{})
	}
}
