package guide

import (
	"maps"
	"slices"
	"time"

	"tared/protocol"
)

// From a flow of fewer steps a second no reaction is learnt; none is under a
// tenth of a second, the limit that the rules of sprinting take for a false start
// (World Athletics, from memory). Longer than a second is no reaction: the person went
// on.
const (
	leastToLearn = 5
	quickest     = 100 * time.Millisecond
	slowest      = time.Second
)

// Stop is where a pour stood when the hand was told to stop; the zero value: it was
// not.
type Stop struct {
	scale          string
	base, in, flow protocol.Mass
}

// Learnt is what is known of each person by name, and of what clings to each container.
// It is a value: what changes it gives a new one, which is not == to the old one. The zero
// value knows nothing.
type Learnt struct{ is *learnt }

type learnt struct {
	people map[string]Person
	clung  [][]Clung // those of one container together
}

func (l Learnt) all() learnt {
	if l.is == nil {
		return learnt{}
	}
	return *l.is
}

// Of is what is known of a person.
func (l Learnt) Of(name string) Person { return l.all().people[name] }

// Names lists those of whom something is known.
func (l Learnt) Names() []string { return slices.Sorted(maps.Keys(l.all().people)) }

// With knows this of a person.
func (l Learnt) With(name string, p Person) Learnt {
	next := l.all()
	people := make(map[string]Person, len(next.people)+1)
	maps.Copy(people, next.people)
	people[name] = p
	next.people = people
	return Learnt{&next}
}

// Watch follows a pour after each line: it notes where the hand is told to stop, and
// learns from how far the pour ran on once it has settled.
func (l Learnt) Watch(s Stop, name string, cue Cue, w Pour, settled bool) (Learnt, Stop) {
	if s.scale != w.Scale || s.base != w.Base {
		s = Stop{} // another pour
	}
	switch {
	case s.flow == 0 && cue == StopNow && !settled:
		return l, Stop{w.Scale, w.Base, w.In + Brings(w.Flow, w.unseen()), w.Flow}
	case s.flow == 0 || !settled:
		return l, s
	case s.flow < leastToLearn*max(w.Step, 1):
		return l, Stop{}
	}
	ran := time.Duration((w.In-s.in).Times(1000, s.flow)) * time.Millisecond
	r := ran - w.Lag - InTheAir
	if r < 0 || r > slowest {
		return l, Stop{}
	}
	p := l.Of(name)
	off := r - p.reaction()
	return l.With(name, Person{max(p.reaction()+off/4, quickest), p.sway() + (off.Abs()-p.sway())/4}), Stop{}
}
