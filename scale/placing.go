package scale

import (
	"fmt"

	"tared/protocol"
)

// Placed is one placing of a weight: the zero before it, what the scale showed
// with it, and the frames that said so.
type Placed struct {
	Zero, Shown protocol.Mass
	Raw         [2][]byte // of Zero and Shown
}

// Net is what the weight weighed.
func (p Placed) Net() protocol.Mass { return p.Shown - p.Zero }

// Placer follows a weight that is put on a scale and taken off again, hands-free:
// each settles, and the next begins by itself. It tells a placing from its zero by
// half the mass of the weight, and knows no time: it is fed with Updates.
type Placer struct {
	Mass protocol.Mass // of the weight, roughly
	Want int           // placings

	Step protocol.Mass // of the scale, once heard
	Got  []Placed

	phase placing
	zero  Placed
	why   string
	err   error
}

type placing uint8

const (
	clearing placing = iota // the pan must be empty
	putting                 // the zero is known
	lifting                 // it was weighed
)

// zeroWithin is how far from zero an empty pan may stand, in steps: farther off,
// something lies on it, or its zero was taken with something there.
const zeroWithin = 5

// Done tells whether all placings are there.
func (p *Placer) Done() bool { return len(p.Got) >= p.Want }

// Err tells why the run cannot go on; nil while it can.
func (p *Placer) Err() error { return p.err }

// Words tells a person what to do now.
func (p *Placer) Words() string {
	switch {
	case p.err != nil:
		return p.err.Error()
	case p.Done():
		return "All of it was seen."
	case p.why != "":
		return p.why
	case p.phase == putting && len(p.Got) == 0:
		return "Put the weight on, and wait until the scale rests."
	case p.phase == putting:
		return "Put it on again."
	case p.phase == lifting:
		return "Take it off, and wait until the scale rests."
	}
	return "Take everything off the pan."
}

// Add takes what an instrument did, and tells whether that changed anything. A gap
// costs the placing that was under way and not those before it, for each has a
// zero of its own.
func (p *Placer) Add(u Update) bool {
	if p.Done() || p.err != nil {
		return false
	}
	was, whyWas := p.phase, p.why
	changed := func() bool { return p.phase != was || p.why != whyWas }
	switch {
	case u.Link != Up || u.Stale:
		p.phase, p.why = clearing, u.Why
		return changed()
	case !u.HasReading:
		return false
	case !u.HasMass:
		p.phase, p.why = clearing, u.Why
		return changed()
	case !u.Settled:
		return false
	}
	if p.Step != 0 && u.Step != p.Step {
		p.err = fmt.Errorf("the step went from %s to %s in between: choose a weight within one range of the scale, and begin again", p.Step, u.Step)
		return true
	}
	near := u.Mass.Abs() <= zeroWithin*u.Step
	on := u.Mass-p.zero.Zero >= p.Mass/2
	if p.phase == clearing {
		on = !near
	}
	switch {
	case p.phase == putting && on:
		p.Step = u.Step
		one := p.zero
		one.Shown, one.Raw[1] = u.Mass, u.Reading.Raw
		p.Got = append(p.Got, one)
		p.phase, p.why = lifting, ""
		return true
	case on:
		if p.phase == clearing {
			p.why = fmt.Sprintf("The empty pan must show zero, and it shows %s g: take everything off, and press the zero key if that does not help.", u.Mass.Grams(u.Step.Places()))
		}
	case near:
		p.zero = Placed{Zero: u.Mass, Raw: [2][]byte{u.Reading.Raw, nil}}
		p.phase, p.why = putting, ""
	default:
		p.why = fmt.Sprintf("That is not the weight of %s: %s g lies there. Put the whole weight on, or take it all off.", p.Mass, u.Mass.Grams(u.Step.Places()))
	}
	return changed()
}
