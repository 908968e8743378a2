package protocol

// stx-polarity-gap-unit: as stx-polarity-unit-letter, with the unit in letters
// behind a blank and no mode.
//
//	STX - __2.452 _ LB M CR LF
//	    ^                        polarity: blank or -
//	      ^^^^^^^                weight, to the right
//	                ^^           unit: LB, OZ, KG or G
//	                   ^         M moving, blank stable
//
// Source: Doran manual.
//
// G may stand alone or be filled up to two columns. A line that has lost its
// last column is refused, for then nothing tells whether it moved.
var stxPolarityGapUnit = &Format{
	Name:    "stx-polarity-gap-unit",
	Summary: "STX, polarity, weight 7, blank, unit, M when moving, CR LF",
	Example: `\x02-  2.452 LBM\r\n`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitStarted(b, atEOF, stx) },
	Parse:   parseSTXPolarityGapUnit,
	Lines: []Line{
		{9600, 8, 'N', 1, "from memory"},
		{9600, 7, 'E', 1, "from memory"},
	},
}

func parseSTXPolarityGapUnit(frame []byte, r *Reading) error {
	if len(frame) == 0 || frame[0] != stx {
		return foreign("it does not open with STX")
	}
	n := len(frame)
	if n != 12 && n != 13 || frame[9] != ' ' {
		return damaged("the unit is not where it belongs")
	}
	var unit Unit
	switch string(trimBlanks(frame[10 : n-1])) {
	case "LB":
		unit = UnitPound
	case "OZ":
		unit = UnitOunce
	case "KG":
		unit = UnitKilogram
	case "G":
		unit = UnitGram
	default:
		return damaged("the unit is not LB, OZ, KG or G")
	}
	switch frame[n-1] {
	case ' ':
		r.Stable = Yes
	case 'M':
		r.Stable = No
	default:
		return damaged("the last letter is not M or blank")
	}
	return polarWeight(frame[1], frame[2:9], unit, r)
}
