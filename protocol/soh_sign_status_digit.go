package protocol

// soh-sign-status-digit: sign, weight, unit, and a digit for the state.
//
//	SOH + 0012.34 kg 0 CR LF
//	    ^                      sign: +, - or blank
//	      ^^^^^^^              weight: zeros or blanks in front
//	              ^^           unit
//	                 ^         0 stable, 1 moving
//
// Source: T-Scale indicator manual, third continuous format.
//
// Refused: any other length or state, and a number that does not end in its
// last column.
var sohSignStatusDigit = &Format{
	Name:    "soh-sign-status-digit",
	Summary: "SOH, sign, weight 7, unit 2, 0 stable or 1 moving, CR LF",
	Example: `\x01+0012.34kg0\r\n`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitStarted(b, atEOF, soh) },
	Parse:   parseSOHSignStatusDigit,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
}

func parseSOHSignStatusDigit(frame []byte, r *Reading) error {
	switch {
	case len(frame) == 0 || frame[0] != soh:
		return foreign("it does not open with SOH")
	case len(frame) != 12:
		return damaged("it does not have 12 characters before CR LF")
	case !r.rest(frame[11], '0', '1'):
		return damaged("the state is not 0 or 1")
	case !r.number(signedNumber(frame[1:9])) || !r.unit(frame[9:11]):
		return damaged("weight or unit is not readable")
	}
	return r.ok()
}
