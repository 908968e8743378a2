package batch_test

import (
	"fmt"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
)

// planned is a batch of two materials for the tiles of a bath house, invented.
func planned() fact.Planned {
	line := func(material string, target, band protocol.Mass) fact.Line {
		return fact.Line{Material: material, Role: "base", Share: "50", Target: target, Low: target - band, High: target + band, Scale: "bench"}
	}
	return fact.Planned{Title: "Bath white", Base: 100 * protocol.Gram, Dry: 100 * protocol.Gram,
		Scales: []fact.Scale{{Name: "bench", Step: protocol.Gram / 10}},
		Lines:  []fact.Line{line("Quartz", 60*protocol.Gram, protocol.Gram/2), line("Whiting", 40*protocol.Gram, protocol.Gram/2)}}
}

// A batch is opened by the fact that planned it, and changed by those that follow.
func ExampleNew() {
	b := batch.New(fact.Fact{Seq: 1, Batch: "T1", By: "Mara"}, planned())
	b.Apply(fact.Fact{Seq: 2, Body: fact.Portion{Material: "Quartz", Delivered: 59 * protocol.Gram}})
	st := b.Steps[b.Current()]
	target, _, _ := st.Left()
	fmt.Println(st.Material, b.StepVerdict(st), target.Grams(1), "g to go")
	b.Apply(fact.Fact{Seq: 3, Body: fact.Portion{Material: "Quartz", Delivered: protocol.Gram}})
	fmt.Println(b.StepVerdict(b.Steps[0]), "then", b.Steps[b.Current()].Material)
	// Output:
	// Quartz under 1.0 g to go
	// in then Whiting
}

// What is undone no longer counts, and the fact itself stays where it is kept.
func ExampleBatch_Apply() {
	b := batch.New(fact.Fact{Seq: 1, Batch: "T1", By: "Mara"}, planned())
	b.Apply(fact.Fact{Seq: 2, Body: fact.Portion{Material: "Quartz", Delivered: 63 * protocol.Gram}})
	fmt.Println(b.Steps[0].Over(), b.Steps[0].Delivered.Grams(1))
	b.Apply(fact.Fact{Seq: 3, Body: fact.Amended{Of: 2, Void: true, Reason: "it was not tipped"}})
	fmt.Println(b.Steps[0].Over(), b.Steps[0].Delivered.Grams(1))
	// Output:
	// true 63.0
	// false 0.0
}

// Shares are of what was delivered, and add up to 100.
func ExampleAsMade() {
	p := planned()
	made, base, _ := batch.AsMade(p.Lines, []batch.Delivery{{Delivered: 61 * protocol.Gram}, {Delivered: 40 * protocol.Gram}})
	for _, m := range made {
		fmt.Println(m.Material, m.Share, m.Verdict)
	}
	fmt.Println(base.Grams(1), "g of base")
	// Output:
	// Quartz 60.396 over
	// Whiting 39.604 in
	// 101.0 g of base
}
