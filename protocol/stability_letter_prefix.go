package protocol

// stability-letter-prefix: sign, number and unit, with S or U in front when the
// menu has it.
//
//	column  (1     S stable, U unstable)
//	        1      sign: '-' or blank
//	        2..9   number, right-aligned
//	        10..11 unit, left-aligned; 3 for some units
//
//	-  186.65g
//	S-  186.65g
//	S  1000.00g
//	U     oL        over range; -oL under range
//
// A line ends with CR by default.
//
// Sources: Shimadzu balance manuals; CAS "CUX" (p. 99) and "CBL" (p. 30).
var stabilityLetterPrefix = &Format{
	Name:      "stability-letter-prefix",
	Summary:   "perhaps S or U, sign, padded number, unit that touches it",
	Example:   `S-  186.65g \r`,
	Split:     splitLine,
	Parse:     parseStabilityLetterPrefix,
	OneLength: true,
	Lines: []Line{
		{Baud: 1200, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory: maker's default"},
		{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "Shimadzu balance manuals: menu"},
		{Baud: 9600, Bits: 7, Parity: 'E', Stop: 1, Source: "Shimadzu balance manuals: menu"},
		{Baud: 9600, Bits: 7, Parity: 'O', Stop: 1, Source: "Shimadzu balance manuals: menu"},
	},
	Ends: true, // "oz" may be cut from "ozt"
}

func parseStabilityLetterPrefix(b []byte, r *Reading) error {
	if len(b) > 0 && r.rest(b[0], 'S', 'U') {
		b = b[1:]
	}
	switch word := trimBlanks(b); {
	case len(b) == 0 || b[0] != ' ' && b[0] != '-':
		return foreign("no sign column")
	case len(b) <= 12 && string(word) == "oL":
		return r.is(Overload, "")
	case len(b) <= 12 && string(word) == "-oL":
		return r.is(Underload, "")
	case len(b) != 11 && len(b) != 12 || b[9] == ' ':
		return foreign("not sign, 8 columns of number and a unit that touches them")
	case !r.number(signedNumber(b[:9])):
		return damaged("the number does not end where the unit starts")
	case !r.unitLeft(b[9:]) || len(b) == 12 && b[11] == ' ':
		return damaged("unknown unit")
	}
	return r.ok()
}
