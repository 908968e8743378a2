package session

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"tared/protocol"
)

// What is learnt of a scale and of a person serves the cues alone, never a record.
// It is kept in memory only: a program that is started again learns it anew, from
// the first container and the first few stops.

// LearntView is what the bench has learnt of a person.
type LearntView struct {
	By       string `json:"by"`
	Reaction string `json:"reaction"` // as "0.31 s"
}

func secondsWords(d time.Duration) string { return fmt.Sprintf("%.2f s", d.Seconds()) }

// learntView lists the people whose reaction is known, by name.
func (s *State) learntView() (all []LearntView) {
	for _, by := range slices.Sorted(maps.Keys(s.React)) {
		all = append(all, LearntView{by, secondsWords(s.React[by])})
	}
	return all
}

// relearn forgets what was learnt: of everything, or of the scale or the person
// named.
func (t *turn) relearn(of string) error {
	of = strings.TrimSpace(of)
	if of == "" {
		for i := range t.s.Pans {
			t.s.Pans[i].TellLag(0)
		}
		t.s.React, t.s.Sway = nil, nil
		t.say("The lag of the scales and the reaction times are learnt anew.")
		return nil
	}
	if p := t.s.pan(of); p != nil {
		p.TellLag(0)
		t.say("The lag of the %s scale is learnt anew.", of)
		return nil
	}
	if _, ok := t.s.React[of]; !ok {
		return refuse("nothing was learnt of %q: name a scale, or a person whose reaction is shown; without a name all is learnt anew", of)
	}
	m := maps.Clone(t.s.React)
	delete(m, of)
	t.s.React = m
	m = maps.Clone(t.s.Sway)
	delete(m, of)
	t.s.Sway = m
	t.say("The reaction time of %s is learnt anew.", of)
	return nil
}

// stopped is where a pour stood when the bench said stop.
type stopped struct {
	scale    string
	base     protocol.Mass // of the pour
	in, flow protocol.Mass
}
