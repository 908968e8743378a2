package session

import (
	"fmt"
	"strings"
	"time"

	"tared/scale/pan"
	"tared/session/guide"
	"tared/session/text"
)

// What is learnt of a scale, of a person and of what clings serves the guidance alone,
// never a record. It is kept in memory only: a program that is started again learns it
// anew, from the first container, the first few stops and the first tips.

func secondsWords(d time.Duration) string { return fmt.Sprintf("%.2f s", d.Seconds()) }

// guide judges once for each input what the hand should be told, and learns from how
// far its pours run on.
func (t *change) guide(in Input) {
	s := &t.s
	eased, told := s.cue == guide.Ease, s.told
	s.cue, s.told, s.hurry = "", guide.Told{}, false
	if !s.atWork() {
		return
	}
	i, p := s.current()
	if i < 0 || p == nil || p.On() != pan.Container || !p.Usable() {
		return
	}
	w := guide.Pour{Scale: p.Name(), Base: p.Vessel().Base, In: p.Content(), Flow: p.Flow(), Step: p.Step(), Lag: p.Lag(), Every: p.Every(), Since: s.Now.Sub(p.Line().At)}
	if w.Runs() {
		w.Lump = p.Lump()
	}
	by := s.Batch.By
	s.cue = s.Learnt.Of(by).Cue(s.aim(i).Aim, w)
	if eased && w.Runs() && s.cue != guide.StopNow {
		s.cue = guide.Ease // a flow that wavers does not change the word
	}
	s.told = told.Then(s.cue, s.Now)
	s.hurry = !p.Settled() && w.Slow() && w.Runs() && p.Live(s.Now)
	heard := in.Update != nil && in.Update.Scale == p.Name()
	if ticked := in.Update == nil && in.Command == nil; heard || s.hurry && ticked { // "stop" may be said between two lines
		s.Learnt, s.stop = s.Learnt.Watch(s.stop, by, s.cue, w, p.Settled())
	}
}

// relearn forgets what was learnt: of everything, or of the scale, the person or the
// material named.
func (t *change) relearn(of string) error {
	of = strings.TrimSpace(of)
	if of == "" {
		for i := range t.s.Pans {
			t.s.Pans[i].TellLag(0)
		}
		t.s.Learnt = guide.Learnt{}
		t.Tell(text.New("notice.relearn-all"))
		return nil
	}
	if p := t.s.pan(of); p != nil {
		p.TellLag(0)
		t.Tell(text.New("notice.relearn-scale", text.Name("scale", of)))
		return nil
	}
	less, known := t.s.Learnt.Without(of)
	if !known {
		return text.Refuse("command.relearn-whom", text.Name("name", of))
	}
	t.s.Learnt = less
	t.Tell(text.New("notice.relearn-name", text.Name("name", of)))
	return nil
}
