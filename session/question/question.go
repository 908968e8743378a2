// Package question holds what the bench asks a person, one file a question: when it is
// asked, its words, its answers, and what each of them records.
//
// There are two sorts. One follows from the batch as the facts tell it, so it is there
// again after a restart: the reminder, an overpour, a second person's look. The
// other was raised by what happened on a pan, and lives no longer than that: a
// container that came back lighter than it was tared. The first sort has a When; the
// second is kept as a [Case] by the machine that raised it.
//
// A [Scene] is a question with all that it looks at. [Now] finds the one that stands;
// its Ask gives the words and Choices the answers; Answer carries one out, through a
// [Bench]. Keys and answer words are part of the journal and of what programs read, and
// do not change; the names in the code say what is meant.
//
// To add one: a file with a Question, its line in [All], its sentences in text. A test
// proves that each answer is told, carried out and recorded. Start with Question.
package question

import (
	"slices"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/text"
)

// Question is one that the bench asks.
type Question struct {
	Key     string                                      // for programs and the journal
	Head    func(*Scene) text.Message                   // for the sign, in few words
	Ask     func(*Scene) (text.Message, []text.Message) // the question, and what to know first
	Answers []Answer                                    // in the order in which they are offered
	When    func(*Scene) bool                           // the batch asks for it; nil: a pan raises it
	Raised  func(*pan.Pan) bool                         // what a pan shows when it raises it; nil: what hands did there says so
	Alone   bool                                        // no other word is taken while it stands
	Refuse  func(*Scene, string) error                  // of a word that does not fit; nil: the usual words
	True    func(filled, tipped bool) []string          // the words that are true of what hands did, best first; nil: the first answer
}

// Answer is one way to answer.
type Answer struct {
	Word  string
	Also  string // another word that is taken for it
	Label func(*Scene) text.Message
	Needs string                                   // what must be behind the word: name, mass; empty: nothing
	If    func(*Scene) bool                        // when it is offered; nil: always
	Sure  func(s *Scene, rest string) text.Message // asked before it is carried out, for one stray press would put a falsehood into the record; nil: it is not
	// Do carries it out, with what was behind the word. Nil: the bench knows the word
	// at any time, such as undo.
	Do func(s *Scene, rest string) error
}

// Words of answers. What Keep and Again mean depends on the question: mostly that
// what was weighed counts, and that it does not.
const (
	Keep    = "keep"
	Again   = "again"
	Next    = "next"
	Yes     = "yes"
	No      = "no"
	Done    = "done"
	Typed   = "typed"
	Enlarge = "enlarge"
	Exact   = "exact" // as Enlarge, until nothing is over its target
	Anew    = "anew"
	Undo    = "undo"
	Skip    = "skip"
	Said    = "said"
	Resume  = "resume"
)

// Case is what raised a question on a pan. The zero Case is none.
type Case struct {
	*Question
	Scale         string
	Before, After protocol.Mass
	Raw           []string
	Unsure        bool          // Before was not steady
	Carried       protocol.Mass // by the pan when it was asked: what its zero moved by since moves both
}

// Bench is what an answer may do at the bench.
type Bench interface {
	By() string                        // who answers; empty: whoever works at the batch
	ActAs(name string)                 // from here on
	Record(body fact.Body)             // writes a fact, and lets it act
	Tell(notice text.Message)          //
	Tare(p *pan.Pan, how string)       // records the container as it stands
	Weigh(p *pan.Pan, w Weighing)      // records a portion and what follows
	MoveTo(p *pan.Pan, line fact.Line) // weighs the material in work on this scale
	CorrectLast(p *pan.Pan, by protocol.Mass, how string)
	Finish()                // closes the batch where nothing is left to weigh
	InWork() bool           // whether a batch is in work
	InTurn(p *pan.Pan) bool // whether the step in work is weighed there
	CarryOut(word, behind string) error
}

// Weighing is a portion about to be recorded.
type Weighing struct {
	Before, After protocol.Mass
	How           string
	Remarks       []string
	Other         protocol.Mass // weight of another container that came back
	Raw           []string
	U             protocol.Mass // without the span of the scale; 0: from the scale
	Delivered     protocol.Mass // for what was typed or stays on the pan; else Before less After
	Left          protocol.Mass // what is said to be in the container still
	Of            int           // index of its step and one; 0: the one in work
	On            string        // scale; empty: that of the step
}

// Scene is a question with all that it looks at.
type Scene struct {
	Case
	Batch *batch.Batch
	Step  int          // in work
	Lift  *fact.Lifted // the container that is off its scale; nil: none
	Pan   *pan.Pan     // that the question is about; nil: none that is heard
	Table *material.Table
	// Meant is a word that changes the record and is asked about, with what was behind it;
	// empty: none. Raised is what a pan raised, while that is asked.
	Meant, Behind string
	Raised        Case
	// CupAgain says what the tub holds for a cup that is started again.
	CupAgain func() ([]text.Message, error)
	Bench    Bench // nil while it is only shown
}

// Choices lists the answers that are offered.
func (s *Scene) Choices() []Answer {
	all := slices.Clone(s.Answers)
	if s.When == nil && s.Step >= 0 && s.Pan != nil {
		for _, a := range anyway {
			if !slices.ContainsFunc(all, func(own Answer) bool { return own.Word == a.Word }) {
				all = append(all, a)
			}
		}
	}
	return slices.DeleteFunc(all, func(a Answer) bool { return a.If != nil && !a.If(s) })
}

// Words lists them by their words.
func (s *Scene) Words() (all []string) {
	for _, a := range s.Choices() {
		all = append(all, a.Word)
	}
	return all
}

// Choice gives the offered answer of a word.
func (s *Scene) Choice(word string) (Answer, bool) {
	all := s.Choices()
	if i := slices.IndexFunc(all, func(a Answer) bool { return a.Word == word || a.Also != "" && a.Also == word }); i >= 0 {
		return all[i], true
	}
	return Answer{}, false
}

// Unfit refuses a word that is no answer.
func (s *Scene) Unfit(word string) error {
	switch {
	case s.Refuse != nil:
		return s.Refuse(s, word)
	case s.Scale != "":
		return text.Refuse("ask.first-of-scale", text.Name("scale", s.Scale), text.Names("answers", s.Words()))
	}
	return text.Refuse("ask.first", text.Names("answers", s.Words()))
}

// --- what the files of the questions share

func says(m text.Message) func(*Scene) text.Message { return func(*Scene) text.Message { return m } }

// step gives the weighing in work, material the name of what goes in.
func (s *Scene) step() batch.Step     { return s.Batch.Steps[s.Step] }
func (s *Scene) material() text.Value { return text.Name("material", s.step().Name()) }
func (s *Scene) scale() text.Value    { return text.Name("scale", s.Scale) }

// places are those of the scale that the question is about.
func (s *Scene) places() int {
	if s.Pan != nil {
		return s.Pan.Step().Places()
	}
	return s.Batch.Scale(s.step().Scale).Step.Places()
}

func (s *Scene) exact(as string, m protocol.Mass) text.Value { return text.Exact(as, m, s.places()) }

func (s *Scene) decide(word string, amount protocol.Mass) {
	s.Bench.Record(fact.Decided{Question: s.Key, Answer: word, Material: s.step().Material, Scale: s.Scale, Amount: amount})
}

// tareAsItStands takes what stands on the pan for an empty container.
func (s *Scene) tareAsItStands(how string) error {
	s.Pan.Stand(s.Pan.Gross())
	s.Bench.Tare(s.Pan, how)
	return nil
}

// went is true where the powder was tipped and none is left in the container.
func went(filled, tipped bool) []string {
	if tipped && !filled {
		return []string{Keep}
	}
	return []string{Again}
}

func always(word string) func(_, _ bool) []string {
	return func(_, _ bool) []string { return []string{word} }
}
