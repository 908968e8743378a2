package question

import "tared/session/text"

// LeftElsewhere: a container with powder in it left a scale out of turn. It went into the
// batch, or it did not.
var LeftElsewhere = &Question{
	Key:  "strayed",
	Head: says(text.New("ask.strayed-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		after, _ := afterwards(s)
		says := text.New("ask.strayed", s.exact("amount", s.Before-after), s.scale())
		if _, why := s.fits(); !why.None() {
			return says, []text.Message{why, text.New("ask.strayed-noted")}
		}
		return says, nil
	},
	Answers: []Answer{
		{Word: Again, Label: says(text.New("ask.strayed-again")), Do: func(s *Scene, _ string) error {
			s.decide(Again, s.Before-s.After)
			return nil
		}},
		{Word: Keep, Label: func(s *Scene) text.Message { return text.New("ask.strayed-keep", s.material()) }, Do: func(s *Scene, _ string) error {
			if _, why := s.fits(); !why.None() {
				return wentIn(s, s.Step, "out-of-turn", "not-accurate")
			}
			return wentIn(s, s.Step, "out-of-turn")
		}},
		{Word: Next, If: hasLater, Label: func(s *Scene) text.Message { return text.New("ask.strayed-next", s.laterMaterial()) },
			Do: func(s *Scene, _ string) error { return wentIn(s, s.later(), "out-of-turn") }},
	},
	True: went,
}

// wentIn records what left the scale as a portion of a step.
func wentIn(s *Scene, step int, remarks ...string) error {
	p := s.Pan
	w := Weighing{Of: step + 1, On: p.Name(), Before: s.Before, After: s.After, How: "not-returned", Raw: s.Raw, Remarks: remarks}
	after, back := afterwards(s)
	if back {
		w.After, w.How, w.Raw = after, "tipped", append(w.Raw[:1:1], p.Raw())
	}
	if s.Unsure {
		if !back {
			w.Remarks = append(w.Remarks, "not-back") // else How says so
		}
		w.How, w.U = "unsettled", NetU(s.Batch, p)+(s.Before-after).Abs()/20
	}
	s.Bench.Weigh(p, w)
	if !back {
		p.Forget()
	} else if s.Bench.InWork() {
		p.StandUntared(false)
	}
	return nil
}
