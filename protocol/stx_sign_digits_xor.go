package protocol

// stx-sign-digits-xor: sign, six digits, a digit for the place of the point,
// and a checksum.
//
//	STX + 012450 0 19 ETX
//	    ^                   sign: + or -
//	      ^^^^^^            digits, no blanks
//	             ^          decimals, 0 to 4
//	               ^^       XOR of the 8 bytes before, two upper-case hex digits
//
// Source: XK3190 indicator family manual, "continuous" format.
//
// No unit is sent, so the user has to say it. Refused: a checksum that does not
// fit, and any other length.
var stxSignDigitsXOR = &Format{
	Name:    "stx-sign-digits-xor",
	Summary: "STX, sign, six digits, number of decimals, XOR in hex, ETX",
	Example: `\x02+012450019\x03`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitBetween(b, atEOF, stx, etx) },
	Parse:   parseSTXSignDigitsXOR,
	Lines:   equalsLines, // of the same indicators
}

func parseSTXSignDigitsXOR(frame []byte, r *Reading) error {
	switch {
	case len(frame) == 0 || frame[0] != stx:
		return foreign("it does not open with STX")
	case len(frame) != 12 || frame[11] != etx:
		return damaged("it does not end with ETX after 11 characters")
	case !hexPair(frame[9:11], xor(frame[1:9])):
		return damaged("the checksum does not fit")
	case frame[1] != '+' && frame[1] != '-' || frame[8] < '0' || frame[8] > '4':
		return damaged("the sign or the number of decimals is impossible")
	}
	n, ok := sixDigits(frame[2:8])
	if !ok || frame[2] == ' ' {
		return damaged("the weight is not six digits")
	}
	r.Value = Decimal{Coef: n, Places: frame[8] - '0', Neg: frame[1] == '-'}
	return r.ok()
}
