package session

import (
	"fmt"
	"slices"
	"strings"

	"tared/scale/pan"
	"tared/session/question"
	"tared/session/text"
)

// letters are the keys of the bench beside those that answer a question, and the words
// without a key, which a page keeps with what is seldom wanted. What changes what was
// recorded, or what is left to weigh, is held: a key that was only touched does nothing.
var letters = []KeyView{
	{Key: "d", Word: "done", Label: text.New("key.done"), Hold: true, Seldom: true},
	{Key: "u", Word: "undo", Label: text.New("key.undo"), Hold: true, Seldom: true},
	{Key: "s", Word: "skip", Label: text.New("key.skip"), Hold: true, Seldom: true},
	{Key: "r", Word: Record, Label: text.New("key.record")},
	{Key: "c", Word: "same", Label: text.New("key.same"), Hold: true},
	{Key: "p", Word: "pause", Label: text.New("key.pause"), Seldom: true},
	{Key: "n", Word: "note", Label: text.New("key.note"), Needs: "text", Seldom: true},
	{Key: "b", Word: "by", Label: text.New("key.by"), Needs: "name", Seldom: true},
	{Word: "substitute", Label: text.New("key.substitute"), Needs: "material", Seldom: true},
	{Word: "anew", Label: text.New("key.anew"), Needs: "reason", Hold: true, Seldom: true},
	{Word: "abandon", Label: text.New("key.abandon"), Needs: "reason", Hold: true, Seldom: true},
}

// Letters lists the keys that a person may set anew or switch off.
func Letters() []KeyView {
	return slices.DeleteFunc(slices.Clone(letters), func(k KeyView) bool { return k.Key == "" })
}

// Words lists all words of a page beside the answers to a question, with what stands on
// their keys.
func Words() []KeyView { return slices.Clone(letters) }

func letter(word string) KeyView {
	return letters[slices.IndexFunc(letters, func(k KeyView) bool { return k.Word == word })]
}

// key names the key of a word in a sentence, so that none is named that is not there.
func key(as string) text.Value { return text.Key(as, strings.ToUpper(letter(as).Key)) }

// keys tells what the few keys and a foot pedal do now. Digits answer the
// question that stands; the pedal sends PageDown for the first answer and
// PageUp for the second.
func (s *State) keys(v *View) []KeyView {
	var k []KeyView
	if v.Asked != nil {
		for i, a := range v.Asked.Answers {
			one := KeyView{Key: fmt.Sprint(i + 1), Word: a.Word, Label: a.Label, Needs: a.Needs, Hold: slices.Contains([]string{question.Undo, question.Skip, question.Done, question.Anew}, a.Word)}
			if i < 2 {
				pedal := one
				pedal.Key = []string{"PageDown", "PageUp"}[i]
				k = append(k, pedal)
			}
			k = append(k, one)
		}
	}
	switch {
	case s.blind == notRecording:
		return append(k, letter(Record))
	case s.blindness() != "":
		same := letter("same")
		same.Label = text.New("key.same-scale", text.Name("scale", s.other().Name()))
		return append(k, same, letter("note"), letter("by"), letter("anew"), letter("abandon"))
	case !s.open():
		return k
	}
	i, p := s.current()
	which := keysOf{step: i, deciding: s.deciding(i), meant: s.meant}
	if p != nil {
		which.on, which.untared = p.On(), p.Vessel().Untared
	}
	letters := kept(s, keysShelf, which, s.letters)
	if k == nil {
		return letters
	}
	return append(k, letters...)
}

// keysOf is what the letters of a batch depend on.
type keysOf struct {
	step              int
	on                pan.State
	untared, deciding bool
	meant             string
}

// letters are the keys of a batch in work that answer nothing.
func (s *State) letters(keysOf) (k []KeyView) {
	if s.Batch.Reminded && !s.Batch.Paused {
		k = s.weighingKeys()
	}
	return append(k, letter("note"), letter("by"), letter("anew"), letter("abandon"))
}

// deciding reports whether a question stands in the way of step i.
func (s *State) deciding(i int) bool {
	return s.asked.Question != nil || s.meant != "" || i >= 0 && (s.Batch.Steps[i].Over() || s.Batch.Waits(i))
}

// weighingKeys are those that need a material in work.
func (s *State) weighingKeys() (k []KeyView) {
	i, p := s.current()
	if p != nil && !s.deciding(i) {
		done := letter("done")
		switch {
		case p.On() == pan.Lifted:
			done.Label = text.New("key.done-lifted")
		case p.On() == pan.Empty, p.Vessel().Untared:
			done.Label = text.New("key.done-tare")
		}
		k = append(k, done)
	}
	if last, _ := s.Batch.Last(); last.Seq > 0 && s.meant == "" {
		k = append(k, letter("undo"))
	}
	if i >= 0 && !s.Batch.Steps[i].Over() && s.meant == "" {
		k = append(k, letter("skip"), letter("substitute"))
	}
	return append(k, letter("pause"))
}
