package protocol

// sign-gap-unit2: sign-pad-unit with a blank behind the sign and one at the end.
//
//	column  1      sign: blank, '-' or '+'
//	        2      blank
//	        3..10  number, right-aligned
//	        11     blank
//	        12..13 unit, right-aligned
//	        14     blank
//
//	-    12.34  g
//
// With a unit of two letters a line is the same, byte for byte, as one of
// fixed-sign-unit, which would call it stable; the two are told apart only by
// setting the format.
//
// Its commands look like those of letter-status and mean something else: ST
// tares here.
//
// Source: Axis "AKA-G" p. 55.
var signGapUnit2 = &Format{
	Name:      "sign-gap-unit2",
	Summary:   "sign, blank, padded number, blank, unit, blank",
	Example:   `-    12.34  g \r\n`,
	Split:     splitLine,
	Parse:     parseSignGapUnit2,
	OneLength: true,
	Lines:     []Line{{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "Axis AKA-G p. 55"}},
	Ask:       &Ask{Weight: []byte("SI\r\n"), Zero: []byte("SZ\r\n"), Tare: []byte("ST\r\n")},
}

func parseSignGapUnit2(b []byte, r *Reading) error {
	switch {
	case len(b) != 14 || !isSign(b[0]) || b[1] != ' ' || b[10] != ' ' || b[13] != ' ':
		return foreign("not sign, blank, 8 columns of number, blank, unit, blank")
	case !r.unitRight(b[11:13]):
		return foreign("no unit right-aligned in columns 12 and 13")
	}
	return signPadNumber(b[0], b[2:10], r)
}
