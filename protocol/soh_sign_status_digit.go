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
	Lines: []Line{
		{9600, 8, 'N', 1, "from memory"},
	},
}

func parseSOHSignStatusDigit(frame []byte, r *Reading) error {
	if len(frame) == 0 || frame[0] != soh {
		return foreign("it does not open with SOH")
	}
	if len(frame) != 12 {
		return damaged("it does not have 12 characters before CR LF")
	}
	switch frame[11] {
	case '0':
		r.Stable = Yes
	case '1':
		r.Stable = No
	default:
		return damaged("the state is not 0 or 1")
	}
	var num, unit bool
	r.Value, num = signedNumber(frame[1:9])
	r.Unit, unit = unitWord(trimBlanks(frame[9:11]))
	if !num || !unit {
		return damaged("weight or unit is not readable")
	}
	r.Status = OK
	return nil
}
