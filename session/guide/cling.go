package guide

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"tared/protocol"
)

// Clung is how much of a material stays in a container of that weight when it is tipped.
type Clung struct {
	Material       string
	Vessel, Amount protocol.Mass
}

// sameVessel is by which part of its weight two sights of one container may differ: what
// clings in it (ours). Two containers that are so near count as one; then what is in
// the heavier already is taken for powder, and less is reckoned with, never more.
const sameVessel = 100

// Of what was poured, in a hundred: so much clings in any container, and no more than so
// much in one that was learnt (from the simulated hands; common practice, no source).
const (
	anyClings  = 1
	MostClings = 3
)

// Clings reports whether what is left of a portion may be what clings, and not powder
// that was left, or the weight of another container. reckoned is what was to stay.
func Clings(left, portion, reckoned, step protocol.Mass) bool {
	return left <= max(5*step, portion/100*anyClings, min(reckoned*3/2+2*step, portion/100*MostClings))
}

// of finds what is known of a container that weighs so much; nil: nothing.
func (l Learnt) of(vessel protocol.Mass) []Clung {
	clung := l.all().clung
	k := slices.IndexFunc(clung, func(c []Clung) bool { return (c[0].Vessel - vessel).Abs() <= vessel/sameVessel })
	if k < 0 {
		return nil
	}
	return clung[k]
}

// Tipped learns from a container that came back from a tip: its own weight, as far as it
// is known, and what it weighs now.
func (l Learnt) Tipped(material string, vessel, now protocol.Mass) Learnt {
	was := l.of(vessel)
	next := slices.Clone(was)
	clean := min(vessel, now)
	if len(was) > 0 {
		clean = min(clean, was[0].Vessel)
	}
	for i := range next {
		next[i].Amount += next[i].Vessel - clean
		next[i].Vessel = clean
	}
	if k := slices.IndexFunc(next, func(c Clung) bool { return c.Material == material }); k >= 0 {
		next[k].Amount += (now - clean - next[k].Amount) / 4
	} else {
		next = append(next, Clung{material, clean, now - clean})
	}
	all := l.all()
	rest := slices.DeleteFunc(slices.Clone(all.clung), func(c []Clung) bool { return len(was) > 0 && c[0] == was[0] })
	all.clung = append(rest, next)
	return Learnt{&all}
}

// Allow moves an aim by what will stay in the container of this pour beyond what is in it
// already: its own weight, and what it weighed when the pour began. Where nothing was
// learnt the aim stays. Nothing is poured over the high mark of a strong colourant on
// the strength of what clung before: it can't be taken back.
func (l Learnt) Allow(a Aim, material string, strong bool, vessel, base protocol.Mass) (Aim, protocol.Mass) {
	for _, c := range l.of(vessel) {
		if c.Material != material {
			continue
		}
		by := min(c.Amount-max(base-c.Vessel, 0), a.Target/100*MostClings)
		by = max(by, (a.Low-a.Target)/2) // what stuck there before may stick there still
		if strong {
			by = min(by, a.High-a.Target)
		} else {
			a.High += by
		}
		a.Target, a.Low = a.Target+by, a.Low+by
		return a, by
	}
	return a, 0
}

// Clings lists what was learnt of containers, by material and weight.
func (l Learnt) Clings() []Clung {
	return slices.SortedFunc(slices.Values(slices.Concat(l.all().clung...)), func(a, b Clung) int {
		return cmp.Or(strings.Compare(a.Material, b.Material), cmp.Compare(a.Vessel, b.Vessel))
	})
}

// Without knows nothing of a person, or of how a material clings, and known reports
// whether it did.
func (l Learnt) Without(name string) (_ Learnt, known bool) {
	was, less := l.all(), learnt{}
	_, known = was.people[name]
	less.people = maps.Clone(was.people)
	delete(less.people, name)
	for _, c := range was.clung {
		left := slices.DeleteFunc(slices.Clone(c), func(c Clung) bool { return c.Material == name })
		known = known || len(left) < len(c)
		if len(left) > 0 {
			less.clung = append(less.clung, left)
		}
	}
	return Learnt{&less}, known
}
