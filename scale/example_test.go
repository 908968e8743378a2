package scale_test

import (
	"fmt"
	"time"

	"tared/protocol"
	"tared/scale"
)

// A scale is one word of the command line; what is left out is found by listening.
func ExampleParseSpec() {
	c, err := scale.ParseSpec("name=bench,port=/dev/ttyUSB0,baud=9600,step=0.1g,max=2000g")
	fmt.Println(c.Name, c.Baud, c.Step, c.Max, err)
	_, err = scale.ParseSpec("port=/dev/ttyUSB0,step=0.1")
	fmt.Println(err != nil)
	// Output:
	// bench 9600 0.1 g 2000 g <nil>
	// true
}

// The pan is at rest when the readings of a second agree within a step.
func ExampleSettler() {
	var s scale.Settler
	at := time.Unix(0, 0)
	for i, m := range []protocol.Mass{40, 90, 118, 120, 120, 120, 120, 120, 120, 120} {
		rest := s.Add(at.Add(time.Duration(i)*200*time.Millisecond), m*protocol.Gram, protocol.Gram/10, protocol.Unsaid)
		fmt.Print(rest, " ")
	}
	fmt.Println()
	// Output:
	// false false false false false false false false true true
}

// The permissible error of a scale of class III with e = 1 g at 600 g, new and in use.
func ExampleMPE() {
	first, _ := scale.MPE(scale.ClassIII, protocol.Gram, 600*protocol.Gram)
	inUse, _ := scale.MPEInService(scale.ClassIII, protocol.Gram, 600*protocol.Gram)
	fmt.Println(first, inUse)
	// Output:
	// 1 g 2 g
}

// Ten placings of one weight tell how well a scale repeats itself.
func ExampleRepeatability() {
	g := protocol.Gram
	r := scale.Repeatability{Shown: []protocol.Mass{500 * g, 500*g + g/10, 500 * g, 500*g - g/10, 500 * g, 500 * g, 500*g + g/10, 500 * g, 500 * g, 500*g - g/10}}
	s, err := r.Spread()
	fmt.Println(r.Range(), s, err)
	// Output:
	// 0.2 g 0.066666667 g <nil>
}
