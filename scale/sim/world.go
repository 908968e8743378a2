package sim

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"time"
)

// Verb is one thing that a hand does.
type Verb string

// The verbs. Each acts on one scale and the one vessel that belongs to it.
const (
	Put     Verb = "put"     // the vessel onto the pan, from hand or shelf
	Lift    Verb = "lift"    // the vessel off the pan, into the hand
	Tip     Verb = "tip"     // the vessel in the hand into the bucket; Grams cling to it
	Pour    Verb = "pour"    // Flow runs onto the pan
	Stop    Verb = "stop"    // the hand closes
	Spoon   Verb = "spoon"   // take Grams out of the vessel on the pan
	Lay     Verb = "lay"     // a thing named Word of Grams beside the vessel
	Take    Verb = "take"    // it away
	Press   Verb = "press"   // lean on the pan with Grams
	Release Verb = "release" // stop leaning
	Knock   Verb = "knock"   // hit the bench: Grams at the peak
	Draught Verb = "draught" // let air move: Grams of standard deviation; 0 ends it

	TareKey  Verb = "tare-key"
	ZeroKey  Verb = "zero-key"
	UnitKey  Verb = "unit-key"
	PowerKey Verb = "power-key"

	Unplug Verb = "unplug" // pull the cable
	Replug Verb = "replug" // put it in again
	Mend   Verb = "mend"   // look at the scale: put the cable in, and press the power key if it is dark

	Say Verb = "say" // tell the bench Word; no scale takes it, a Runner carries it
)

// Action is one thing that a hand does at a time.
type Action struct {
	At    time.Time
	Scale string
	Verb  Verb
	Grams float64
	Flow  Flow
	Word  string
}

// mostCling is the largest share of a content that clings: a little powder meets
// little of the wall. Ours.
const mostCling = 0.03

// Place is one scale of a World and the vessel that belongs to it.
type Place struct {
	Name      string
	Model     Model
	Container float64 // empty weight of the vessel, grams
}

// World is a bench with scales, a vessel for each, and a bucket. Any goroutine
// may use it. It has no clock: time comes with the questions, and never runs
// backwards.
type World struct {
	mu     sync.Mutex
	places []*place
	queue  []Action // by time
	bucket Vessel
	waste  Vessel // what was spooned out
}

type place struct {
	w      *World
	name   string
	scale  *Scale
	vessel *Vessel
	on     bool // the vessel stands on the pan
	cable  bool
}

// NewWorld makes scales that are on, with empty pans, at start. The seed decides
// everything that is left to chance on them.
func NewWorld(seed uint64, start time.Time, places ...Place) (*World, error) {
	w := &World{bucket: Vessel{Name: "bucket"}, waste: Vessel{Name: "waste"}}
	for _, p := range places {
		if w.find(p.Name) != nil {
			return nil, fmt.Errorf("simulated bench: two scales are named %q", p.Name)
		}
		m := p.Model
		m.Name = p.Name // two scales of one model must not make the same noise
		s, err := NewScale(m, seed, start)
		if err != nil {
			return nil, err
		}
		w.places = append(w.places, &place{w: w, name: p.Name, scale: s, cable: true,
			vessel: &Vessel{Name: p.Name + " container", Empty: p.Container}})
	}
	return w, nil
}

func (w *World) find(name string) *place {
	for _, p := range w.places {
		if p.name == name {
			return p
		}
	}
	return nil
}

// Names lists the scales.
func (w *World) Names() []string {
	names := make([]string, len(w.places))
	for i, p := range w.places {
		names[i] = p.name
	}
	return names
}

// Do takes actions, each to happen at its time, or at once where that has
// passed.
func (w *World) Do(actions ...Action) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, a := range actions {
		if w.find(a.Scale) == nil {
			return fmt.Errorf("simulated bench: there is no scale %q; there are %s", a.Scale, strings.Join(w.Names(), ", "))
		}
		if !slices.Contains(verbs, a.Verb) {
			return fmt.Errorf("simulated bench: hands cannot %q on a scale", a.Verb)
		}
		i, _ := slices.BinarySearchFunc(w.queue, a, func(q, a Action) int {
			if q.At.After(a.At) {
				return 1
			}
			return -1 // behind those of the same time
		})
		w.queue = slices.Insert(w.queue, i, a)
	}
	return nil
}

var verbs = []Verb{Put, Lift, Tip, Pour, Stop, Spoon, Lay, Take, Press, Release, Knock, Draught,
	TareKey, ZeroKey, UnitKey, PowerKey, Unplug, Replug, Mend}

// Advance lets time pass.
func (w *World) Advance(t time.Time) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.advance(t)
}

func (w *World) advance(t time.Time) {
	for len(w.queue) > 0 && !w.queue[0].At.After(t) {
		a := w.queue[0]
		w.queue = w.queue[1:]
		w.find(a.Scale).do(a)
	}
	for _, p := range w.places {
		p.scale.At(t)
	}
}

func (p *place) do(a Action) {
	s := p.scale
	switch a.Verb {
	case Put:
		p.on = true
		s.Put(a.At, p.vessel)
	case Lift:
		p.on = false
		s.Lift(a.At, p.vessel)
	case Tip:
		p.tip(a)
	case Pour:
		s.Pour(a.At, a.Flow)
	case Stop:
		s.Stop(a.At)
	case Spoon:
		took := s.Spoon(a.At, a.Grams)
		took.pourInto(&p.w.waste, 0)
	case Lay:
		s.Lay(a.At, a.Word, a.Grams)
	case Take:
		s.Take(a.At, a.Word)
	case Press:
		s.Press(a.At, a.Grams)
	case Release:
		s.Press(a.At, 0)
	case Knock:
		s.Knock(a.At, a.Grams)
	case Draught:
		s.Draught(a.At, a.Grams)
	case TareKey:
		s.TareKey(a.At)
	case ZeroKey:
		s.ZeroKey(a.At)
	case UnitKey:
		s.UnitKey(a.At)
	case PowerKey:
		s.PowerKey(a.At)
	case Unplug:
		p.cable = false
	case Replug:
		p.cable = true
	case Mend:
		p.mend(a.At)
	}
}

func (p *place) tip(a Action) {
	if p.on {
		return // it cannot be tipped while it stands there
	}
	p.scale.At(a.At)
	p.vessel.pourInto(&p.w.bucket, math.Min(a.Grams, mostCling*p.vessel.Content()))
}

func (p *place) mend(at time.Time) {
	p.cable = true
	if p.scale.At(at); p.scale.off {
		p.scale.PowerKey(at)
	}
}

// Show gives the display of a scale at a time. A scale that is not there shows
// nothing.
func (w *World) Show(name string, t time.Time) Shown {
	w.mu.Lock()
	defer w.mu.Unlock()
	p := w.find(name)
	if p == nil {
		return Shown{At: t, Silent: true}
	}
	w.advance(t)
	sh := p.scale.At(t)
	sh.Cable = p.cable
	return sh
}

// Scale gives one scale as something that a Line can speak of.
func (w *World) Scale(name string) (Source, error) {
	p := w.find(name)
	if p == nil {
		return nil, fmt.Errorf("simulated bench: there is no scale %q; there are %s", name, strings.Join(w.Names(), ", "))
	}
	return p, nil
}

// Show gives the display at a time.
func (p *place) Show(t time.Time) Shown { return p.w.Show(p.name, t) }

// Press presses a key.
func (p *place) Press(t time.Time, key Verb) {
	// A key that the scale does not have does nothing.
	_ = p.w.Do(Action{At: t, Scale: p.name, Verb: key})
}

// Bucket gives how many grams of a material were really tipped into the bucket;
// no real bench can know it.
func (w *World) Bucket(material string) float64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.bucket.Of(material)
}

// Tipped gives how many grams of all materials were really tipped into the bucket.
func (w *World) Tipped() float64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.bucket.Content()
}

// Inside gives the grams in the vessel of a scale, and whether it stands on the pan.
func (w *World) Inside(scale string) (grams float64, on bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if p := w.find(scale); p != nil {
		return p.vessel.Content(), p.on
	}
	return 0, false
}

// Waste gives the grams that were spooned out.
func (w *World) Waste() float64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.waste.Content()
}
