package protocol

// stx-polarity-gap-legend: as stx-polarity-unit-letter, with blanks between the
// fields and two letters for the mode.
//
//	STX - ___2.452 _ kg _ GR CR LF
//	    ^                            polarity: blank or -
//	      ^^^^^^^                    weight, to the right
//	                 ^^              unit
//	                      ^^         GR gross, NT net; in lower case while moving
//
// Sources: Dini Argeo DF1500, Salter Brecknell 308BP and Selleton manuals (the
// columns); Fairbanks 2800 manual (lower-case legends while moving, --oL-- and
// --uL-- in the weight when out of range, and no line at all under range).
//
// Lower case says moving. Upper case says nothing, for most of these makers
// write it always. The unit fills two columns, with a blank on either side of one
// letter: were one column enough, a "kg" that lost its k would be read as grams.
var stxPolarityGapLegend = &Format{
	Name:    "stx-polarity-gap-legend",
	Summary: "STX, polarity, weight 7, blank, unit, blank, GR or NT, CR LF",
	Example: `\x02-  2.452 kg GR\r\n`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitStarted(b, atEOF, stx) },
	Parse:   parseSTXPolarityGapLegend,
	Lines:   linesFromMemory,
}

func parseSTXPolarityGapLegend(frame []byte, r *Reading) error {
	switch {
	case len(frame) == 0 || frame[0] != stx:
		return foreign("it does not open with STX")
	case len(frame) != 15 || frame[9] != ' ' || frame[12] != ' ':
		return damaged("the blanks between the fields are not where they belong")
	}
	switch string(frame[13:]) {
	case "GR":
		r.Mode = Gross
	case "NT":
		r.Mode = Net
	case "gr":
		r.Mode, r.Stable = Gross, No
	case "nt":
		r.Mode, r.Stable = Net, No
	default:
		return damaged("the legend is not GR or NT")
	}
	if !r.unit(frame[10:12]) {
		return damaged("the unit is not known")
	}
	return polarWeight(frame[1], frame[2:9], r)
}

// polarWeight reads the polarity and weight that several STX formats share, and
// the words that stand there out of range.
func polarWeight(pol byte, weight []byte, r *Reading) error {
	if pol != ' ' && pol != '-' {
		return damaged("the polarity is not blank or minus")
	}
	// The first dash may stand in the polarity column.
	switch string(trimBlanks(weight)) {
	case "--oL--", "-oL--":
		return r.is(Overload, "")
	case "--uL--", "-uL--":
		return r.is(Underload, "")
	}
	if !r.number(signedDigits(pol == '-', weight)) {
		return damaged("the weight is not digits with a point")
	}
	return r.ok()
}
