package slip

import (
	"strconv"

	"tared/session/text"
)

// The standards of sieves whose numbers are known here. The same number means
// another opening in each.
const (
	US      = "US"      // ASTM E11, with the openings of ISO 3310-1
	British = "British" // BSS numbers of BS 410
)

// openings are in µm. US: ASTM E11 and ISO 3310-1, from memory, but 200 (75 µm:
// onlycalculators.com). British: table of GTZ, 1987.
var openings = map[string]map[int]int{
	US:      {30: 600, 40: 425, 50: 300, 60: 250, 70: 212, 80: 180, 100: 150, 120: 125, 170: 90, 200: 75, 230: 63, 270: 53, 325: 45},
	British: {30: 500, 60: 251, 85: 178, 100: 152, 120: 124, 170: 89, 200: 76, 350: 43},
}

// Opening gives the opening in µm of a sieve by its number in a standard. It is
// looked up: the wire has a thickness, so 25 400 over the number is not it.
func Opening(number int, standard string) (int, error) {
	all, ok := openings[standard]
	if !ok {
		return 0, text.Refuse("slip.sieve-standard", text.Name("standard", standard), text.Name("us", US), text.Name("british", British))
	}
	um, ok := all[number]
	if !ok {
		return 0, text.Refuse("slip.sieve", text.Number("mesh", strconv.Itoa(number)), text.Name("standard", standard))
	}
	return um, nil
}
