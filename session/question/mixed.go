package question

import (
	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/sheet"
	"tared/session/text"
)

// Mixed: a mixing cup, or the tub of a series, is to be mixed before some of it is weighed
// out.
var Mixed = &Question{
	Key:  "mix",
	When: func(s *Scene) bool { return s.Batch.Unmixed(s.Step) },
	Head: func(s *Scene) text.Message {
		switch {
		case inTub(s):
			return text.New("ask.mix-tub-head")
		case s.mix().Solution():
			return text.New("ask.mix-stir-head")
		}
		return text.New("ask.mix-head")
	},
	Ask: func(s *Scene) (text.Message, []text.Message) {
		if inTub(s) {
			return text.New("ask.mix-tub"), []text.Message{
				text.New("ask.mix-tub-cups", text.Count("count", int(s.Batch.Plan.Series.Cups)), text.Name("first", batch.CupMark(s.mix().From, 1))),
				text.New("ask.mix-tub-sieve"),
			}
		}
		return mixCup(s)
	},
	Answers: []Answer{
		{Word: Yes, Also: Done, Label: func(s *Scene) text.Message {
			if s.mix().Solution() {
				return text.New("ask.mix-clear")
			}
			return text.New("ask.mix-yes")
		}, Do: func(s *Scene, rest string) error {
			s.Bench.Record(fact.Decided{Question: s.Key, Answer: Yes, Material: s.step().Material, Words: rest})
			return nil
		}},
		{Word: Skip, If: func(s *Scene) bool { return !inTub(s) }, Label: says(text.New("ask.mix-skip"))},
	},
	Refuse: func(s *Scene, _ string) error {
		if s.mix().Solution() {
			return text.Refuse("ask.mix-clear-first")
		}
		return text.Refuse("ask.mix-first")
	},
}

func (s *Scene) mix() batch.Mix { return s.Batch.Mixes[s.step().Mix] }

// inTub reports whether it was weighed into the tub of a series, not into a cup here.
func inTub(s *Scene) bool { return s.mix().From != "" }

func mixCup(s *Scene) (question text.Message, lines []text.Message) {
	b := s.Batch
	weigh, dilute, take := b.CupSteps(s.step().Mix)
	places := func(st *batch.Step) int { return b.Scale(st.Scale).Step.Places() }
	strong := b.MaterialOf(*weigh)
	question = text.New("ask.mix", text.Exact("amount", weigh.Delivered, places(weigh)), text.Name("material", strong),
		text.Exact("carried", dilute.Delivered, places(dilute)), text.Name("carrier", b.MaterialOf(*dilute)))
	rest := max(weigh.Delivered+dilute.Delivered-take.Target, protocol.Mass(0))
	holds := b.LineOf(b.Mixes[take.Mix].Parts[0].Material).Target
	if s.mix().Solution() {
		return text.New("ask.mix-stir", text.Exact("amount", weigh.Delivered, places(weigh)), text.Name("material", strong), text.Exact("carried", dilute.Delivered, places(dilute))), []text.Message{
			text.New("ask.mix-stir-gloves"), text.New("ask.mix-stir-cloudy"),
			text.New("ask.mix-stir-then", text.Mass("amount", take.Target, places(take)), text.Mass("holds", holds, places(weigh)+1), text.Name("material", strong), text.Mass("rest", rest, places(take)))}
	}
	adds := sheet.Geometric(weigh.Delivered, dilute.Delivered)
	if len(adds) > 1 {
		lines = append(lines, text.New("ask.mix-little-by-little"))
	}
	there := weigh.Delivered
	for k, add := range adds {
		there += add
		lines = append(lines, text.New("ask.mix-add", text.Count("no", k+1), text.Mass("amount", add, places(dilute)), text.Mass("there", there, places(dilute))))
	}
	return question, append(lines, text.New("ask.mix-then", text.Mass("amount", take.Target, places(take)), text.Mass("holds", holds, places(weigh)+1),
		text.Name("material", strong), text.Mass("rest", rest, places(take))))
}
