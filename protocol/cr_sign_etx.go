package protocol

// cr-sign-etx: CR leads, ETX ends, blanks stand between the fields.
//
//	CR _ 012.34 _ _ lb _ g _ _ ETX
//	   ^                             sign: blank, + or -
//	     ^^^^^^                      six digits, a point beside or among them
//	            ^                    status
//	                ^^               unit
//	                     ^           g gross, n net
//
// Source: Cardinal manuals.
//
// What the status letters mean was not read, so a weight counts only where the
// column is blank; any other letter is handed out without a value. Whether the
// point is one of the six characters is not known either, so both widths pass,
// but no third. A blank status is not taken as a claim to be stable.
var crSignETX = &Format{
	Name:    "cr-sign-etx",
	Summary: "CR, sign, six digits, status, unit, g or n, ETX",
	Example: `\r 012.34  lb g  \x03`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitBetween(b, atEOF, '\r', etx) },
	// Either width, but one of them.
	OneLength: true,
	Parse:     parseCRSignETX,
	Lines:     linesFromMemory,
}

func parseCRSignETX(frame []byte, r *Reading) error {
	n := len(frame)
	if n == 0 || frame[0] != '\r' {
		return foreign("it does not open with CR")
	}
	if n != 17 && n != 18 || frame[n-1] != etx {
		return damaged("it does not end with ETX after 16 or 17 characters")
	}
	// From the status on, the columns are the same in both widths.
	switch tail := frame[n-9:]; {
	case tail[1] != ' ' || tail[4] != ' ' || tail[6] != ' ' || tail[7] != ' ':
		return damaged("the blanks between the fields are not where they belong")
	case !r.mode(tail[5], 'g', 'n'):
		return damaged("the mode is not g or n")
	case !r.unit(tail[2:4]):
		return damaged("the unit is not known")
	case tail[0] != ' ':
		return r.is(Invalid, "a status letter whose meaning is not known")
	case !r.number(signedNumber(frame[1:n-9])) || n == 18 && r.Value.Places == 0:
		return damaged("the weight is not six digits")
	}
	return r.ok()
}
