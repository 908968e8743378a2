package sheet_test

import (
	"fmt"
	"math/big"

	"tared/protocol"
	"tared/session/doubt"
	"tared/session/recipe"
	"tared/session/sheet"
)

// A weigh sheet says what to weigh on which scale, and how well that scale can.
func ExamplePlan() {
	r, _ := recipe.Parse("# Bath house white\nNepheline syenite 60\nQuartz 25\nWhiting 15\n+ Cobalt carbonate 0.2\n")
	s, err := sheet.Plan(sheet.Request{
		Recipe: r,
		Size:   sheet.Size{Base: 750 * protocol.Gram},
		Scales: []sheet.Scale{{Name: "bench", Step: protocol.Gram / 10, Max: 2000 * protocol.Gram}},
	})
	fmt.Println(s.Dry, err)
	for _, l := range s.Lines {
		fmt.Println(l.Material, l.Target, l.Verdict)
	}
	// Output:
	// 751.5 g <nil>
	// Nepheline syenite 450 g good
	// Quartz 187.5 g good
	// Whiting 112.5 g good
	// Cobalt carbonate 1.5 g blind
}

// Can the scale weigh it? It depends on what is allowed, the step and U.
func ExampleJudge() {
	step, U := protocol.Gram/10, 129*protocol.Milligram
	for _, allowed := range []protocol.Mass{protocol.Gram, protocol.Gram / 10, protocol.Gram / 50} {
		fmt.Println(allowed, sheet.Judge(allowed, step, U))
	}
	// Output:
	// 1 g good
	// 0.1 g coarse
	// 0.02 g blind
}

// What is too little for the scale goes in by way of a mixture.
func ExamplePlanAliquot() {
	a, err := sheet.PlanAliquot(2*protocol.Milligram, 120*protocol.Milligram)
	fmt.Println(a.Weigh, a.Dilute, a.Take, err)
	// Output:
	// 0.12 g 7.08 g 0.12 g <nil>
}

// The smallest mass that a scale of 0.1 g can weigh to 2 %.
func ExampleLeastByUncertainty() {
	m, err := sheet.LeastByUncertainty(doubt.Scale{Step: protocol.Gram / 10}, big.NewRat(2, 100))
	fmt.Println(m, err)
	// Output:
	// 6.45497225 g <nil>
}
