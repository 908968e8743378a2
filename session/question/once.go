package question

import (
	"strings"

	"tared/scale/pan"
	"tared/session/text"
)

// Words that change the record are asked once: a stray press, or a scanner that types,
// changes nothing. With anything behind them they are meant, and not asked.
var (
	Skipping = once(Skip, text.New("ask.skip-head"), text.New("ask.skip-no"), text.New("ask.skip-yes"), func(s *Scene) text.Message {
		if share := s.Batch.LineOf(s.step().Material).Share; share != "" {
			return text.New("ask.skip-share", s.material(), text.Share("share", share))
		}
		return text.New("ask.skip", s.material())
	})
	Undoing = once(Undo, text.New("ask.undo-head"), text.New("ask.undo-no"), text.New("ask.undo-yes"), func(s *Scene) text.Message {
		last, st := s.Batch.Last()
		switch last.Answer {
		case "":
			return text.New("ask.undo", text.Exact("amount", last.Delivered, st.Places), text.Name("material", st.Name()))
		case Skip:
			return text.New("ask.undo-skip", text.Name("material", st.Name()))
		case "substitute":
			return text.New("ask.undo-substitute", text.Name("name", st.As), text.Name("material", st.Material))
		default:
			return text.New("ask.undo-over", text.Exact("amount", last.Delivered, st.Places), text.Name("material", st.Name()))
		}
	})
	Finishing = once(Done, text.New("ask.done-head"), text.New("ask.done-no"), text.New("ask.done-yes"), func(s *Scene) text.Message {
		switch p := s.Pan; {
		case p.On() == pan.Lifted:
			return text.New("ask.done-lifted", s.exact("amount", p.LiftedContent()), s.material())
		case p.On() == pan.Empty || p.Vessel().Untared:
			return text.New("ask.done-tare", s.exact("amount", p.Gross()), text.Name("scale", p.Name()))
		default:
			return text.New("ask.done", s.exact("amount", p.Content()), s.material(), text.Name("scale", p.Name()))
		}
	})
	// Same: another scale seems to speak in place of one.
	Same = once("same", text.New("ask.same-head"), text.New("ask.same-no"), text.New("ask.same-yes"), func(*Scene) text.Message { return text.New("ask.same") })
	// Answering: an answer to what a pan raised, such as a weight, as a scanner may send one.
	Answering = once(Said, text.New("ask.done-head"), text.New("ask.done-no"), text.New("ask.done-yes"), func(s *Scene) text.Message {
		word, rest, _ := strings.Cut(s.Behind, " ")
		about := *s
		about.Case = s.Raised
		a, _ := about.Choice(word)
		return a.Sure(&about, rest)
	})
)

// once asks whether a word was meant. The harmless answer is the first, for a pedal.
func once(word string, head, no, yes text.Message, ask func(*Scene) text.Message) *Question {
	return &Question{
		Key:  word,
		When: func(s *Scene) bool { return s.Step >= 0 && s.Meant == word },
		Head: says(head),
		Ask:  func(s *Scene) (text.Message, []text.Message) { return ask(s), nil },
		Answers: []Answer{
			{Word: No, Label: says(no), Do: func(*Scene, string) error { return nil }},
			{Word: Yes, Label: says(yes), Do: func(s *Scene, _ string) error { return s.Bench.CarryOut(word, s.Behind) }},
		},
		True: func(_, _ bool) []string { // simulated hands press no key but by mistake, and mean what they answer
			if word == Said {
				return []string{Yes}
			}
			return []string{No}
		},
	}
}
