package session

import (
	"tared/protocol"
	"tared/session/question"
	"tared/session/text"
)

// question finds what is asked now; nil: nothing.
func (s *State) question() *question.Scene {
	i, p := s.current()
	q := question.Now(question.Scene{Case: s.asked, Batch: s.Batch, Step: i, Lift: s.Lift, Pan: p, Table: s.Table, Meant: s.meant, Behind: s.behind, CupAgain: s.cupAgain})
	if q != nil && q.Scale != "" {
		q.Pan = s.pan(q.Scale)
		by := q.Pan.Carried() - q.Carried
		q.Before, q.After, q.Carried = q.Before+by, q.After+by, q.Pan.Carried()
	}
	return q
}

// tub is what the tub of a series holds, and what the cup in work and those to come need
// of it.
type tub struct {
	left, need protocol.Mass
	others     int // cups to come
	places     int
}

// lacks gives what is missing for the last cup; a thousandth is what clings and what
// rounding makes.
func (t tub) lacks() protocol.Mass {
	if less := t.need - t.left; less > t.need/1000 {
		return less
	}
	return 0
}

// tub looks at the tub, should the cup in work be started again. The error says that it
// does not do for this cup.
func (s *State) tub() (tub, error) {
	b, r := s.Batch, s.Series
	cup := int(b.Plan.Series.Cup)
	if r == nil || r.Tub.Mark != b.Plan.Series.Of || len(r.Tub.Plan.Series.Plans) < cup {
		return tub{}, text.Refuse("command.anew-tub-unknown")
	}
	this := r.Tub.Plan.Series.Plans[cup-1].Take
	t := tub{left: max(r.Left-b.TakenFromTub(), 0), need: this.Target, others: len(r.Tub.Plan.Series.Plans) - cup, places: b.Scale(this.Scale).Step.Places()}
	for _, p := range r.Tub.Plan.Series.Plans[cup:] {
		t.need += p.Take.Target
	}
	if r.Left-b.TakenFromTub() < this.Low {
		return t, text.Refuse("command.anew-tub-empty", text.Mass("left", t.left, t.places), text.Mass("need", this.Target, t.places))
	}
	return t, nil
}

func (s *State) cupAgain() ([]text.Message, error) {
	t, err := s.tub()
	if err != nil {
		return nil, err
	}
	says := []text.Message{text.New("command.anew-tub-last", text.Mass("left", t.left, t.places), text.Mass("need", t.need, t.places))}
	if t.others > 0 {
		says[0] = text.New("command.anew-tub", text.Mass("left", t.left, t.places), text.Mass("need", t.need, t.places), text.Count("count", t.others))
	}
	if t.lacks() > 0 {
		says = append(says, text.New("command.anew-tub-short", text.Mass("lacks", t.lacks(), t.places)))
	}
	return says, nil
}
