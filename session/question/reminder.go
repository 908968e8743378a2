package question

import (
	"cmp"
	"slices"
	"strings"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/material"
	"tared/session/text"
)

// Reminder: mask and ventilation, before the first dry material and after a long pause.
var Reminder = &Question{
	Key:   "reminder",
	Alone: true,
	When:  func(s *Scene) bool { return !s.Batch.Reminded },
	Head:  says(text.New("bench.reminder")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.reminder"), reminderLines(s.Batch, s.Table)
	},
	Answers: []Answer{
		{Word: Yes, Needs: "name", Label: says(text.New("ask.reminder-yes")), Do: func(s *Scene, rest string) error {
			who := cmp.Or(strings.TrimSpace(rest), s.Bench.By(), s.Batch.By)
			if who == "" {
				return text.Refuse("ask.reminder-who")
			}
			s.Bench.ActAs(who)
			s.Bench.Record(fact.Reminded{Reminders: reminderLines(s.Batch, s.Table), Answer: Yes})
			return nil
		}},
	},
	Refuse: func(*Scene, string) error { return text.Refuse("ask.reminder-first") },
}

// reminderLines are shown before the first dry material, and recorded.
func reminderLines(b *batch.Batch, t *material.Table) []text.Message {
	var names []string
	went := b.Deliveries()
	for i, l := range b.Lines {
		names = append(names, cmp.Or(went[i].As, l.Material))
	}
	for _, c := range b.Plan.Series.Plans {
		for _, l := range c.Lines {
			if !slices.Contains(names, l.Material) {
				names = append(names, l.Material)
			}
		}
	}
	return t.Or().Reminder(names)
}
