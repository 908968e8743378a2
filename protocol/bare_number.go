package protocol

// bare-number: another menu choice of header-comma instruments: the sign and
// the digits, and nothing that tells what they are.
//
//	column  1      sign, '+' or '-'
//	        2..    8 or 9 characters, digits with leading zeros, one point at most
//
//	+00127.800
//	+99999999     out of range: nines alone
//
// With no unit, no state and no check, the width is all that can be held
// against a cut line, and the terminator is asked for.
//
// Source: A&D manuals FX-i, GX, AD-4212 ("NU format").
var bareNumber = &Format{
	Name:      "bare-number",
	Summary:   "sign and digits only; the unit must be set",
	Example:   `+00127.800\r\n`,
	Split:     splitAckLine,
	Parse:     parseBareNumber,
	OneLength: true,
	Lines:     headerCommaLines,
	Ask:       headerCommaAsk,
	Ends:      true,
}

func parseBareNumber(b []byte, r *Reading) error {
	if ok, err := headerCommaWord(b, r); ok {
		return err
	}
	if len(b) == 0 || b[0] != '+' && b[0] != '-' {
		return foreign("no sign in front")
	}
	for _, c := range b[1:] {
		if !isDigit(c) && c != '.' {
			return foreign("more than a sign and digits")
		}
	}
	switch {
	case len(b) != 9 && len(b) != 10:
		return damaged("not 8 or 9 digits behind the sign")
	case nines(b[1:]):
		return r.out(b[0] == '-')
	case !r.number(signedDigits(b[0] == '-', b[1:])):
		return damaged("the number is not digits with one point")
	case r.Value.Places == 0:
		// Nothing here tells a count from a weight that lost its point.
		return damaged("no decimal point: a count, or a weight that lost it")
	}
	return r.ok()
}
