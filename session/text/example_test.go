package text_test

import (
	"encoding/json"
	"fmt"

	"tared/protocol"
	"tared/session/text"
)

// What happened is a code with its values; the sentence is made when it is shown.
func ExampleNew() {
	m := text.New("ask.over", text.Mass("amount", 131_200*protocol.Milligram, 1), text.Name("material", "Whiting"), text.Mass("target", 127_500*protocol.Milligram, 1))
	fmt.Println(text.English.Plain().Say(m))
	j, _ := json.Marshal(m)
	fmt.Println(string(j))
	// Output:
	// 131.2 g of Whiting went in; the target is 127.5 g.
	// {"code":"ask.over","values":{"amount":{"g":"131.2"},"material":"Whiting","target":{"g":"127.5"}}}
}

// An error that a person can mend says so in the reader's language; Error says it in
// English.
func ExampleRefuse() {
	err := fmt.Errorf("start the batch: %w", text.Refuse("bench.not-there", text.Name("scale", "fine")))
	fmt.Println(err)
	fmt.Println(text.English.Say(text.Of(err)))
	// Output:
	// start the batch: Not on the fine scale
	// Not on the fine scale
}
