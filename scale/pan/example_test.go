package pan_test

import (
	"fmt"
	"time"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
)

// shows makes the update of a scale in tenths of a gram.
func shows(at time.Time, tenths int64, settled bool) scale.Update {
	return scale.Update{At: at, Link: scale.Up, HasReading: true, HasMass: true, Mass: protocol.Mass(tenths) * protocol.Gram / 10,
		Step: protocol.Gram / 10, Settled: settled, Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram}}
}

// A container is put on and tared, something is poured, and it is lifted.
func ExamplePan_Hear() {
	p := pan.New("bench", 2000*protocol.Gram, protocol.Gram/10)
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	for _, line := range []struct {
		tenths  int64
		settled bool
	}{{0, true}, {600, false}, {1184, true}, {1500, false}, {2030, true}, {300, false}} {
		at = at.Add(200 * time.Millisecond)
		switch p.Hear(shows(at, line.tenths, line.settled)) {
		case pan.PutOn:
			p.Stand(p.Gross())
			fmt.Println("a container of", p.Vessel().Weight)
		case pan.TakenOff:
			fmt.Println("lifted with", p.LiftedContent(), "in it")
		}
	}
	// Output:
	// a container of 118.4 g
	// lifted with 84.6 g in it
}

// After a gap the tare is unknown, until the pan is seen empty.
func ExamplePan_Gap() {
	p := pan.New("bench", 2000*protocol.Gram, protocol.Gram/10)
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	p.Hear(shows(at, 1184, true))
	p.Stand(p.Gross())
	p.Gap(at.Add(time.Second))
	fmt.Println(p.On() == pan.Unknown, p.Proven())
	p.Hear(shows(at.Add(time.Minute), 0, true))
	fmt.Println(p.Found(at.Add(time.Minute)), p.Proven())
	// Output:
	// true false
	// 59s true
}

// The zero of an empty scale drifts, and the weights stay true.
func ExampleOffsets() {
	p := pan.New("bench", 2000*protocol.Gram, protocol.Gram/10)
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	p.Hear(shows(at, -1, true))
	p.Hear(shows(at.Add(time.Second), 1183, true))
	fmt.Println(p.Gross(), p.Offsets()[pan.Drift])
	// Output: 118.4 g 0.1 g
}
