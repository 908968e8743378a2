package protocol

import "bytes"

// sign-digits-unit-letters: sign, digits, unit, and two letters at the end.
//
//	column  1      sign: '+', '-' or blank
//	        2..8   number, zeros or blanks in front (8 characters on some, and
//	               the line is one longer)
//	        9..10  unit, right-aligned
//	        11     limits: L low, G good, H high, blank unused
//	        12     status: S stable, U unstable, E fault, blank unsaid
//
//	+00123.4 G S
//	-65.4321KG U
//	+007.12/3 G S    the digit behind the slash is the verification scale's
//	                 auxiliary one: 7.123
//	+00000.0 G E     a fault: the number is not to be trusted
//
// Sources: Shinko Denshi / Vibra and KERN EG, EW, PES interface sections;
// chumpon-asaneerat/NSerialCommTools, folder WEIGHT QA (hex log, with slashes).
var signDigitsUnitLetters = &Format{
	Name:      "sign-digits-unit-letters",
	Summary:   "sign, digits, unit, limit and status letter",
	Example:   `+00123.4 G S\r\n`,
	Split:     splitLine,
	Parse:     parseSignDigitsUnitLetters,
	OneLength: true,
	Lines: []Line{
		{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"},
		{Baud: 1200, Bits: 8, Parity: 'N', Stop: 2, Source: "from memory: old models"},
	},
}

func parseSignDigitsUnitLetters(b []byte, r *Reading) error {
	if len(b) != 12 && len(b) != 13 || !isSign(b[0]) {
		return foreign("not a sign and 12 or 13 columns")
	}
	limit, status := b[len(b)-2], b[len(b)-1]
	num, unit := b[1:len(b)-4], b[len(b)-4:len(b)-2]
	switch {
	case limit != ' ' && limit != 'L' && limit != 'G' && limit != 'H':
		return foreign("no limit letter in the last but one column")
	case !r.rest(status, 'S', 'U') && status != 'E' && status != ' ':
		return foreign("no status letter in the last column")
	case !r.unitRight(unit):
		return foreign("no unit right-aligned in its two columns")
	}
	var buf [8]byte
	if i := bytes.IndexByte(num, '/'); i >= 0 {
		if len(b) != 13 || i != len(num)-2 || !bytes.Contains(num[:i], []byte{'.'}) {
			return damaged("a slash stands before the last decimal only")
		}
		n := copy(buf[:], num[:i])
		buf[n] = num[i+1]
		num = buf[:n+1]
		if !isDigit(num[n-1]) {
			return damaged("a slash stands behind a digit")
		}
	}
	if !r.number(signedDigits(b[0] == '-', num)) {
		return damaged("the number does not end where the unit starts")
	}
	if status == 'E' {
		return r.is(Error, "the instrument reports a fault")
	}
	return r.ok()
}
