package question

import "slices"

// All lists the questions; of those that follow from the batch, the first whose When
// holds stands.
var All = []*Question{
	Paused, Skipping, Undoing, Finishing, Answering, Same, Reminder, Overpour, SecondPerson,
	PouredElsewhere, AlreadyFilled, LeftElsewhere,
	AfterGap, LeftInGap, LighterContainer, CameBackLighter, CameBackHeavier, CameBackPartly, LittleMissing, LiftedUnseen, CameSlowly, LiftedTooSoon, Disagree,
	Mixed, ByEye,
}

// Now finds the question that stands: one that nothing goes before, then one that a pan
// raised, then what else the batch asks for.
func Now(s Scene) *Scene {
	for _, q := range All {
		if q.When == nil && q == s.Question && s.Step >= 0 || q.When != nil && q.When(&s) {
			if q.When != nil {
				s.Case, s.Raised = Case{Question: q}, s.Case
			}
			return &s
		}
	}
	return nil
}

// Called gives the question of a key, nil where there is none.
func Called(key string) *Question {
	if i := slices.IndexFunc(All, func(q *Question) bool { return q.Key == key }); i >= 0 {
		return All[i]
	}
	return nil
}

// Truth gives the answers that are true of what hands did, best first, for hands that are
// simulated: whether powder is in the container, and whether some was tipped.
func Truth(key string, filled, tipped bool) []string {
	if q := Called(key); q != nil && q.True != nil {
		return q.True(filled, tipped)
	}
	return nil
}
