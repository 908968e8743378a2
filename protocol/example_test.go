package protocol_test

import (
	"fmt"

	"tared/protocol"
)

// A mass is read with its unit, and is exact: an ounce is 28.349523125 g.
func ExampleParseMass() {
	for _, text := range []string{"750g", "1.5kg", "0,1 g", "1oz"} {
		m, err := protocol.ParseMass(text)
		fmt.Println(m, err)
	}
	// Output:
	// 750 g <nil>
	// 1500 g <nil>
	// 0.1 g <nil>
	// 28.349523125 g <nil>
}

// What may mean two things is refused: is 1,234 more than a thousand, or little
// more than one?
func ExampleParseHumanDecimal() {
	_, err := protocol.ParseHumanDecimal("1,234")
	fmt.Println(err != nil)
	d, err := protocol.ParseHumanDecimal("12,5")
	fmt.Println(d, err)
	// Output:
	// true
	// 12.5 <nil>
}

// The digits stay as the scale showed them, for zeros at the end carry the step.
func ExampleParseDecimal() {
	d, err := protocol.ParseDecimal("-12.50")
	fmt.Println(d, err)
	m, err := d.Mass(protocol.UnitGram)
	fmt.Println(m, err)
	// Output:
	// -12.50 <nil>
	// -12.5 g <nil>
}

// A Decoder takes bytes as they come, cut anywhere, and gives readings.
func ExampleDecoder() {
	f, _ := protocol.Lookup("header-comma")
	d := protocol.NewDecoder(f, protocol.Options{})
	for _, part := range []string{"ST,+00123.4", "5  g\r\nUS,+0012", "3.46  g\r\nOL,+9999999E+19\r\n"} {
		d.Push([]byte(part))
		for r, ok := d.Next(); ok; r, ok = d.Next() {
			fmt.Println(r.Status, r.Value, r.Unit, r.Stable == protocol.Yes)
		}
	}
	// Output:
	// ok 123.45 g true
	// ok 123.46 g false
	// overload 0  false
}

// Detect names the format of a sample, or says why it cannot.
func ExampleDetect() {
	d := protocol.Detect([]byte("ST,+00123.45  g\r\nUS,+00123.46  g\r\nST,+00123.47  g\r\n"))
	fmt.Println(d.Format.Name)
	d = protocol.Detect([]byte("hello\r\nworld\r\n"))
	fmt.Println(d.Format == nil)
	// Output:
	// header-comma
	// true
}

// A user declares a format by an expression that matches a whole line.
func ExampleCompilePattern() {
	f, err := protocol.CompilePattern(protocol.Pattern{
		Name: "our-old-scale",
		Expr: `W (?P<sign>[ -]) *(?P<number>[0-9]+\.[0-9]) (?P<unit>g|kg)`,
	})
	fmt.Println(err)
	var r protocol.Reading
	err = f.Parse([]byte("W - 12.5 g"), &r)
	fmt.Println(r.Value, r.Unit, err)
	err = f.Parse([]byte("hello"), &r)
	fmt.Println(err != nil)
	// Output:
	// <nil>
	// -12.5 g <nil>
	// true
}

// AppendJSON writes a reading as `tared decode` prints it.
func ExampleAppendJSON() {
	f, _ := protocol.Lookup("header-comma")
	d := protocol.NewDecoder(f, protocol.Options{})
	d.Push([]byte("ST,+00123.45  g\r\n"))
	r, _ := d.Next()
	fmt.Println(string(protocol.AppendJSON(nil, r)))
	// Output:
	// {"format":"header-comma","value":"123.45","unit":"g","stable":true,"mode":"-","status":"ok","raw":"53542c2b30303132332e3435202067"}
}
