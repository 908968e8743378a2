package slip_test

import (
	"fmt"
	"math/big"

	"tared/session/slip"
)

func rat(s string) *big.Rat { r, _ := new(big.Rat).SetString(s); return r }

// Brongniart's formula: what a litre of slip of gravity 1.5 holds dry.
func ExampleDry() {
	dry, err := slip.Dry(rat("1.5"), rat("2.5"))
	fmt.Println(dry.FloatString(1), err)
	// Output:
	// 833.3 <nil>
}

// Water for 5 kg dry to a gravity of 1.45.
func ExampleWater() {
	per, err := slip.Water(rat("1.45"), rat("2.6"))
	fmt.Println(per.Mul(per, rat("5000")).FloatString(0), err)
	// Output:
	// 4915 <nil>
}

// Ten litres at 1.6 are to come down to 1.45.
func ExampleThin() {
	litres, err := slip.Thin(rat("10"), rat("1.6"), rat("1.45"))
	fmt.Println(litres.FloatString(2), err)
	_, err = slip.Thin(rat("10"), rat("1.45"), rat("1.6"))
	fmt.Println(err != nil)
	// Output:
	// 3.33 <nil>
	// true
}

// A hydrometer may show degrees.
func ExampleTwaddell() {
	g, err := slip.Twaddell(rat("90"))
	fmt.Println(g.FloatString(2), err)
	// Output:
	// 1.45 <nil>
}

// A kilogram of dry clay out of a bag that is 3 % water.
func ExampleMoist() {
	weigh, err := slip.Moist(rat("1000"), rat("3"))
	fmt.Println(weigh.FloatString(1), err)
	// Output:
	// 1030.9 <nil>
}
