package question

import (
	"tared/protocol"
	"tared/session/text"
)

// AfterGap: a scale was lost and is back, and shows something else than it did. Has
// its zero moved, or is this another container?
var AfterGap = &Question{
	Key:  "tare",
	Head: says(text.New("ask.tare-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.tare", s.scale(), s.exact("after", s.After), s.exact("before", s.Before)), nil
	},
	Answers: []Answer{
		{Word: Keep, Label: says(text.New("ask.tare-keep")), Do: func(s *Scene, _ string) error {
			s.decide(Keep, s.Pan.Content())
			s.Pan.Stays()
			s.Bench.Tare(s.Pan, "answered")
			return nil
		}},
		{Word: Again, Label: says(text.New("ask.tare-again")), Do: func(s *Scene, _ string) error {
			s.decide(Again, 0)
			return s.tareAsItStands("answered")
		}},
		{Word: Done, If: pouredBefore, Label: func(s *Scene) text.Message { return text.New("ask.tare-done", s.exact("poured", poured(s))) },
			Do: func(s *Scene, _ string) error {
				s.Pan.Stays()
				return s.replaced("answered", Weighing{Before: s.Before, After: s.Pan.Vessel().Base, How: "unsettled", U: NetU(s.Batch, s.Pan) + s.Pan.Step(), Remarks: []string{"last-heard", "not-back"}})
			}},
	},
	True: func(filled, tipped bool) []string {
		switch {
		case filled:
			return []string{Keep}
		case tipped:
			return []string{Done, Again}
		}
		return []string{Again}
	},
}

func poured(s *Scene) protocol.Mass { return s.Before - s.Pan.Vessel().Base }

func pouredBefore(s *Scene) bool { return poured(s) > s.Pan.Steps(3) }
