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
// The unit fills two columns, with a blank on either side of G: were one column
// enough, a "KG" that lost its K would be read as grams.
var stxPolarityGapUnit = &Format{
	Name:    "stx-polarity-gap-unit",
	Summary: "STX, polarity, weight 7, blank, unit, M when moving, CR LF",
	Example: `\x02-  2.452 LBM\r\n`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitStarted(b, atEOF, stx) },
	Parse:   parseSTXPolarityGapUnit,
	Lines:   linesFromMemory,
}

func parseSTXPolarityGapUnit(frame []byte, r *Reading) error {
	switch {
	case len(frame) == 0 || frame[0] != stx:
		return foreign("it does not open with STX")
	case len(frame) != 13 || frame[9] != ' ':
		return damaged("it does not have 13 characters before CR LF, the 10th of them blank")
	}
	switch string(trimBlanks(frame[10:12])) {
	case "LB", "OZ", "KG", "G":
		r.unit(frame[10:12])
	default:
		return damaged("the unit is not LB, OZ, KG or G")
	}
	if !r.rest(frame[12], ' ', 'M') {
		return damaged("the last letter is not M or blank")
	}
	return polarWeight(frame[1], frame[2:9], r)
}
