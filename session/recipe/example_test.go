package recipe_test

import (
	"fmt"
	"math/big"

	"tared/session/recipe"
)

// A recipe is plain text: a name and an amount a line, a plus before an addition.
func ExampleParse() {
	r, err := recipe.Parse(`# Tidewrack, satin
Nepheline syenite   41
Quartz              24
Whiting             17
+ Tin oxide          4
`)
	fmt.Println(r.Title, err)
	fmt.Println(len(r.Base()), len(r.Additions()))
	_, err = recipe.Parse("Quartz lots\n")
	fmt.Println(err != nil)
	// Output:
	// Tidewrack, satin <nil>
	// 3 1
	// true
}

// The base is normalised to 100 whatever it adds up to; additions are percent of
// the base.
func ExampleRecipe_Shares() {
	r, _ := recipe.Parse("Quartz 30\nBall clay 20\n+ Rutile 4\n")
	base, additions := r.Shares()
	fmt.Println(base[0].RatString(), base[1].RatString(), additions.RatString())
	// Output:
	// 60 40 4
}

// Parts that must add up are rounded once, by largest remainder.
func ExampleApportion() {
	third := big.NewRat(1, 3)
	parts, err := recipe.Apportion(100, []*big.Rat{third, third, third})
	fmt.Println(parts, err)
	// Output:
	// [34 33 33] <nil>
}
