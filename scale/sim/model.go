package sim

import (
	"errors"
	"fmt"
	"time"

	"tared/protocol"
)

// Model is what a scale is built like.
type Model struct {
	Name  string
	Max   protocol.Mass // capacity
	Units []UnitSteps   // what the unit key goes through; the first is there at power-up

	// Lag is the time constant of the filter between load cell and display; what
	// is shown runs behind what is poured by flow times Lag.
	Lag time.Duration
	// Refresh is the time between two changes of the display; 0: every Tick.
	Refresh time.Duration
	// Noise is the standard deviation of the filtered signal on a quiet pan, in grams.
	Noise float64
	// Drift is how the signal creeps with nothing touched, in grams a second.
	Drift float64
	// Draught is the standard deviation of the slow push of moving air, in grams.
	Draught float64

	// NoFlag: the scale has no detector of rest, or does not tell. Shown.Stable
	// then stays false.
	NoFlag bool
	// The scale calls itself stable when the signal stayed within Band steps of
	// where it was for Rest. Zero values: one step, one second, as a weighing
	// transmitter leaves the factory (EM100-F manual p. 37).
	Band int
	Rest time.Duration

	// Track lets the zero follow a signal that stands within half a step of it, by
	// at most half a step a second (OIML R 76-1, 4.5.7). A trickle slower than
	// that disappears.
	Track bool
	// AutoOff is the time without change after which the scale goes dark; 0: never.
	AutoOff time.Duration
	// Boot is how long it says nothing after the power key.
	Boot time.Duration
	// Under is how far below its zero it can show; 0: as far as Max.
	Under protocol.Mass
	// MinusZero shows "-0.0" for what rounds to zero from below.
	MinusZero bool
}

// UnitSteps is one unit that a scale can show, and its steps.
type UnitSteps struct {
	Unit   protocol.Unit
	Ranges []Range // by load, ascending
}

// Range is a part of the capacity with a step of its own.
type Range struct {
	Upto protocol.Mass    // gross load to which this step holds; 0: to the capacity
	Step protocol.Decimal // in the unit, such as 0.1 or 0.5
}

// Check tells what makes the model impossible.
func (m Model) Check() error {
	if m.Max <= 0 {
		return fmt.Errorf("scale model %q: capacity %s: must be above zero", m.Name, m.Max)
	}
	if len(m.Units) == 0 {
		return fmt.Errorf("scale model %q: no unit: give one with its step", m.Name)
	}
	for _, u := range m.Units {
		if !u.Unit.IsMass() {
			return fmt.Errorf("scale model %q: unit %q is not a mass", m.Name, u.Unit)
		}
		if len(u.Ranges) == 0 {
			return fmt.Errorf("scale model %q: unit %s has no step", m.Name, u.Unit)
		}
		for _, r := range u.Ranges {
			if r.Step.Coef == 0 {
				return fmt.Errorf("scale model %q: step %s %s: must be a mass above zero", m.Name, r.Step, u.Unit)
			}
		}
	}
	if m.Lag < 0 || m.Noise < 0 || m.Draught < 0 || m.Rest < 0 || m.Band < 0 {
		return errors.New("scale model " + m.Name + ": lag, noise, draught, rest and band cannot be negative")
	}
	return nil
}

// grams makes the steps of a scale that shows grams.
func grams(coef uint64, places uint8) UnitSteps {
	return UnitSteps{protocol.UnitGram, []Range{{Step: protocol.Decimal{Coef: coef, Places: places}}}}
}

// The scales of the demo and of studies. None is a particular product: capacity
// and step are common pairs of the trade (common practice, no source), lag and
// noise are ours.

// Bench is a bench scale of 2000 g by 0.1 g.
func Bench() Model {
	return Model{
		Name: "bench", Max: 2000 * protocol.Gram,
		Units: []UnitSteps{
			grams(1, 1),
			{protocol.UnitKilogram, []Range{{Step: protocol.Decimal{Coef: 1, Places: 4}}}},
			{protocol.UnitOunce, []Range{{Step: protocol.Decimal{Coef: 5, Places: 3}}}},
		},
		Lag: 300 * time.Millisecond, Noise: 0.02, Draught: 0.01,
		Rest: time.Second, Boot: 3 * time.Second, Under: 1000 * protocol.Gram,
	}
}

// Fine is a small balance of 300 g by 0.01 g.
func Fine() Model {
	return Model{
		Name: "fine", Max: 300 * protocol.Gram,
		Units: []UnitSteps{
			grams(1, 2),
			{protocol.UnitOunce, []Range{{Step: protocol.Decimal{Coef: 5, Places: 4}}}},
		},
		Lag: 400 * time.Millisecond, Noise: 0.002, Draught: 0.0015,
		Rest: time.Second, Boot: 3 * time.Second, Under: 200 * protocol.Gram,
	}
}
