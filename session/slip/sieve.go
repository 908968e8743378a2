package slip

import (
	"strconv"

	"tared/session/text"
)

// The standards of sieves whose numbers are known here. The same number means
// another opening in each.
const (
	US      = "US"      // ASTM E11, with the openings of ISO 3310-1
	British = "British" // numbers of BS 410, dropped in 1969 and still in catalogues
	Tyler   = "Tyler"   // the Tyler series
)

// openings are in µm. US: ASTM E11-17 (18, 20, 25, 200, 325 and from 400 on), the others with the
// openings of ISO 3310-1 from memory. British: 30, 60, 85, 100, 120, 170, 200 and 350 by the
// table of GTZ, 1987, 16, 18 and 22 as published, the others from memory. Tyler: 16, 20, 24, 270 and
// 400 as published, the others from memory.
var openings = map[string]map[int]int{
	US:      {10: 2000, 12: 1700, 14: 1400, 16: 1180, 18: 1000, 20: 850, 25: 710, 35: 500, 45: 355, 140: 106, 400: 38, 450: 32, 500: 25, 635: 20, 30: 600, 40: 425, 50: 300, 60: 250, 70: 212, 80: 180, 100: 150, 120: 125, 170: 90, 200: 75, 230: 63, 270: 53, 325: 45},
	British: {8: 2000, 10: 1700, 12: 1400, 14: 1180, 16: 1000, 18: 850, 22: 710, 25: 600, 36: 425, 44: 355, 52: 300, 72: 212, 150: 106, 240: 63, 300: 53, 400: 38, 440: 32, 30: 500, 60: 251, 85: 178, 100: 152, 120: 124, 170: 89, 200: 76, 350: 43},
	Tyler: {9: 2000, 10: 1700, 12: 1400, 14: 1180, 16: 1000, 20: 850, 24: 710, 28: 600, 32: 500, 35: 425, 42: 355, 48: 300, 60: 250, 65: 212, 80: 180, 100: 150, 115: 125,
		150: 106, 170: 90, 200: 75, 250: 63, 270: 53, 325: 45, 400: 38, 450: 32, 500: 25, 635: 20},
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
