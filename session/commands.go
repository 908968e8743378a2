package session

import (
	"slices"
	"strings"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/question"
	"tared/session/text"
)

// word is one that a person may say at the bench.
type word struct {
	do func(*change, Command) error
	// When it is taken: always means in a pause, before the reminder and beside any
	// question too; midway, beside a question that a pan raised; else only where nothing is
	// asked.
	always, midway bool
	once           bool // asked about before it is carried out, unless something is behind it
}

// vocabulary is all that the bench knows beside the answers of its questions.
var vocabulary = map[string]word{
	"note":       {do: (*change).note, always: true},
	"pause":      {do: (*change).pause, always: true},
	"resume":     {do: func(*change, Command) error { return text.Refuse("command.not-paused") }, always: true},
	"by":         {do: (*change).takeOver, always: true},
	"anew":       {do: (*change).startAgain, always: true},
	"abandon":    {do: (*change).abandon, always: true},
	"same":       {do: (*change).same, always: true, once: true},
	"undo":       {do: (*change).undo, midway: true, once: true},
	"skip":       {do: (*change).skip, midway: true, once: true},
	"substitute": {do: (*change).substitute, midway: true},
	"yes":        {do: func(*change, Command) error { return text.Refuse("command.nothing-to-confirm") }, midway: true},
	"typed":      {do: (*change).typed},
	"done":       {do: (*change).done, once: true},
	"again":      {do: (*change).again},
	"keep":       {do: noOverpour},
	"enlarge":    {do: noOverpour},
	"exact":      {do: noOverpour},
}

func noOverpour(_ *change, c Command) error {
	return text.Refuse("command.no-overpour", text.Name("word", c.Word))
}

// command carries out a word: as an answer to what is asked, else as a word that the
// bench knows.
func (t *change) command(c Command) error {
	t.by = strings.TrimSpace(c.By)
	switch {
	case c.Word == "relearn":
		return t.relearn(c.Rest)
	case !t.s.open() && c.Word == "note" && t.s.Batch != nil:
		return t.note(c)
	case !t.s.open():
		return text.Refuse("command.no-batch")
	}
	q := t.s.question()
	w, known := vocabulary[c.Word]
	if q != nil {
		if a, ok := q.Choice(c.Word); ok {
			return t.answer(q, a, c)
		}
		if !(known && w.always) && (q.Alone || !(known && w.midway)) {
			return q.Unfit(c.Word)
		}
	}
	switch {
	case known && !w.always && t.s.Batch.Current() < 0:
		return text.Refuse("command.nothing-left")
	case known:
		return t.carry(w, c)
	}
	return text.Refuse("command.unknown", text.Name("word", c.Word))
}

func (t *change) answer(q *question.Scene, a question.Answer, c Command) error {
	if a.Do == nil {
		return t.carry(vocabulary[a.Word], c)
	}
	t.s.meant = ""
	if c.Word != a.Word {
		c.Rest = "" // that is behind another word
	}
	if a.Needs == "name" {
		if err := person(c.Rest); err != nil {
			return err
		}
	}
	if a.Sure != nil && c.Rest != question.Yes {
		try := *t
		try.s.Pans = slices.Clone(t.s.Pans)
		if q.Pan != nil {
			q.Pan = try.s.pan(q.Pan.Name())
		}
		t.s.meant, t.s.behind = question.Said, strings.TrimSpace(a.Word+" "+c.Rest)
		return try.give(q, a, c.Rest)
	}
	return t.give(q, a, c.Rest)
}

// give gives an answer to a question.
func (t *change) give(q *question.Scene, a question.Answer, behind string) error {
	if q.When == nil {
		t.raise(question.Case{})
	}
	q.Bench = t
	return a.Do(q, behind)
}

// carry carries a word out, or asks whether it was meant.
func (t *change) carry(w word, c Command) error {
	switch {
	case w.once && c.Rest == "":
		try := *t
		try.s.Pans = slices.Clone(t.s.Pans)
		if err := w.do(&try, c); err != nil {
			return err
		}
		t.s.meant = c.Word
		return nil
	case w.once && c.Rest == question.Yes:
		c.Rest = ""
	}
	return w.do(t, c)
}

// CarryOut carries out a word that was asked about.
func (t *change) CarryOut(word, behind string) error {
	if q := t.s.question(); word == question.Said && q != nil {
		word, rest, _ := strings.Cut(behind, " ")
		a, _ := q.Choice(word)
		return t.give(q, a, rest)
	}
	return vocabulary[word].do(t, Command{Word: word})
}

func (t *change) note(c Command) error {
	if c.Rest == "" {
		return text.Refuse("command.note-what")
	}
	t.Record(fact.Noted{Text: c.Rest})
	return nil
}

func (t *change) pause(c Command) error {
	if t.s.Batch.Paused {
		return text.Refuse("command.paused-already")
	}
	t.Record(fact.Paused{Why: c.Rest})
	return nil
}

func (t *change) takeOver(c Command) error {
	if c.Rest == "" {
		return text.Refuse("command.by-whom")
	}
	if err := person(c.Rest); err != nil {
		return err
	}
	t.by = c.Rest
	t.Record(fact.Decided{Question: "operator", Answer: c.Rest})
	t.Tell(text.New("notice.operator", text.Name("name", c.Rest)))
	return nil
}

// same says that the scale that speaks is the one that was there before, with other
// settings. Its tare is unknown, as after a gap.
func (t *change) same(Command) error {
	p := t.s.other()
	if p == nil {
		return text.Refuse("command.same-already")
	}
	t.Record(fact.Decided{Question: "scale", Answer: "same", Scale: p.Name()})
	p.Same()
	return nil
}

func (t *change) abandon(c Command) error {
	if c.Rest == "" {
		return text.Refuse("command.abandon-why")
	}
	t.Record(fact.Noted{Text: c.Rest})
	t.Record(t.s.Batch.Closing(true))
	t.raise(question.Case{})
	if !batch.ClosesSeries(c.Rest) {
		t.nextCup()
	}
	return nil
}

func (t *change) substitute(c Command) error {
	if c.Rest == "" {
		return text.Refuse("command.substitute-what")
	}
	st := t.s.Batch.Steps[t.s.Batch.Current()]
	if st.Part == batch.TakePart {
		return text.Refuse("command.mixed-already", text.Name("material", st.Material))
	}
	lines := material.Unknown()
	if m, ok := t.s.Table.Or().Lookup(c.Rest); m.Blocked != "" {
		return text.Refuse("sheet.blocked", text.Name("material", c.Rest), text.Name("why", m.Blocked))
	} else if ok {
		lines = m.Hazards()
		out, _ := t.s.Table.Or().Lookup(st.Material)
		if x, differ := material.Instead(out, m); differ {
			for _, said := range slices.Backward(x.Says(max(st.Target-st.Delivered, 0))) { // the newest stands on top
				t.Tell(said)
			}
		}
	}
	t.Record(fact.Decided{Question: "material", Answer: "substitute", Material: st.Material, With: c.Rest})
	t.Tell(text.New("notice.substitute", text.Name("material", c.Rest), text.Said("line", lines[0])))
	return nil
}

// undo takes back what was recorded last, as long as the batch is open: a decision with
// the portion that it was about, or a portion.
func (t *change) undo(c Command) error {
	last, st := t.s.Batch.Last()
	if last.Seq == 0 {
		return text.Refuse("command.nothing-to-undo")
	}
	how := ""
	if c.Rest == "" || last.Answer != "" {
		how = "undone"
	}
	void := fact.Amended{Of: last.Seq, Reason: c.Rest, How: how, Material: st.Material, Void: true}
	if last.Answer != "" {
		void.Field = "decision"
		t.Record(void)
		void.Field = ""
		t.Tell(text.New("notice.decision-undone", text.Name("material", st.Material)))
	}
	if last.Portion != 0 {
		void.Of, void.Was = last.Portion, last.Delivered
		t.Record(void)
		t.Tell(text.New("notice.undone", text.Exact("amount", last.Delivered, 0), text.Name("material", st.Name())))
	}
	t.raise(question.Case{})
	return nil
}

func (t *change) skip(c Command) error {
	st := t.s.Batch.Steps[t.s.Batch.Current()]
	if st.Over() {
		return text.Refuse("command.skip-over", text.Name("material", st.Name()))
	}
	t.Record(fact.Decided{Question: "material", Answer: "skip", Material: st.Material, Words: c.Rest, Amount: st.Delivered})
	t.raise(question.Case{})
	if p := t.s.pan(st.Scale); p != nil && p.On() == pan.Container && p.Content() > p.Steps(pan.ZeroSlack) {
		p.Untare() // what is in it is none of the next material
	}
	t.Finish()
	return nil
}

func (t *change) typed(c Command) error {
	i, p := t.s.current()
	st := t.s.Batch.Steps[i]
	if p != nil {
		return text.Refuse("command.typed-not-by-eye", text.Name("material", st.Name()), text.Name("scale", st.Scale))
	}
	m, err := protocol.ParseMass(c.Rest)
	if err != nil {
		return text.Refuse("command.typed-unread", text.Because("why", err))
	}
	sc := t.s.Batch.Scale(st.Scale)
	switch {
	case m <= 0:
		return text.Refuse("command.typed-nothing", text.Exact("amount", m, 0))
	case sc.Step > 0 && m%sc.Step != 0:
		return text.Refuse("command.typed-too-fine", text.Exact("amount", m, 0), text.Name("scale", st.Scale), text.Exact("step", sc.Step, 0))
	case sc.Max > 0 && m > sc.Max:
		return text.Refuse("command.typed-too-much", text.Exact("amount", m, 0), text.Name("scale", st.Scale), text.Exact("most", sc.Max, 0))
	}
	t.Weigh(nil, question.Weighing{Before: m, Delivered: m, How: "typed", Raw: []string{"typed " + c.Rest}})
	return nil
}

// done is the key for what hands cannot show: a tub that stays on the pan, a
// container that will not come back, a container that the scale already tared.
func (t *change) done(Command) error {
	i, p := t.s.current()
	scale := t.s.Batch.Steps[i].Scale
	switch {
	case p == nil:
		return text.Refuse("command.done-by-eye", text.Name("scale", scale))
	case p.On() == pan.Lifted:
		t.standIn(p)
		return nil
	case !p.Live(t.at) || p.On() == pan.Unknown:
		return text.Refuse("command.done-no-reading", text.Name("scale", scale))
	case !p.AtRest():
		return text.Refuse("ask.not-steady", text.Name("scale", scale))
	case p.On() == pan.Empty, p.Vessel().Untared:
		p.Stand(p.Gross())
		t.Tare(p, "answered")
		return nil
	case p.Content() <= 0:
		return text.Refuse("command.done-nothing")
	}
	rest, raw := p.Rest()
	t.Weigh(p, question.Weighing{Before: p.Vessel().Base, After: rest, Delivered: rest - p.Vessel().Base, How: "tub", Raw: []string{raw}})
	return nil
}

// again starts the pour over: what stands on the pan now is the container.
func (t *change) again(Command) error {
	_, p := t.s.current()
	switch {
	case p == nil || p.On() != pan.Container:
		return text.Refuse("command.again-no-container")
	case !p.AtRest():
		return text.Refuse("ask.not-steady", text.Name("scale", p.Name()))
	case p.Left().Amount == 0:
		p.Stand(p.Gross())
		t.Tare(p, "answered")
		return nil
	}
	// What looked like powder left in the container is the weight of another one.
	t.CorrectLast(p, p.Left().Amount, "not-powder")
	if t.s.open() {
		p.Stand(p.Gross())
	}
	return nil
}

// By, ActAs, InWork and InTurn, with what else is exported here, are the bench as the answers to
// its questions see it.
func (t *change) By() string        { return t.by }
func (t *change) ActAs(name string) { t.by = name }
func (t *change) InWork() bool      { return t.s.open() }

// InTurn reports whether the step in work is weighed on a pan.
func (t *change) InTurn(p *pan.Pan) bool {
	_, q := t.s.current()
	return q == p
}
