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
	Split:   splitCRSign,
	// Either width, but one of them.
	OneLength: true,
	Parse:     parseCRSignETX,
	Lines: []Line{
		{9600, 8, 'N', 1, "from memory"},
		{9600, 7, 'E', 1, "from memory"},
	},
}

func splitCRSign(b []byte, atEOF bool) (int, []byte) { return splitBetween(b, atEOF, '\r', etx) }

func parseCRSignETX(frame []byte, r *Reading) error {
	n := len(frame)
	if n == 0 || frame[0] != '\r' {
		return foreign("it does not open with CR")
	}
	if n != 17 && n != 18 || frame[n-1] != etx {
		return damaged("it does not end with ETX after 16 or 17 characters")
	}
	// From the status on, the columns are the same in both widths.
	tail := frame[n-9:]
	if tail[1] != ' ' || tail[4] != ' ' || tail[6] != ' ' || tail[7] != ' ' {
		return damaged("the blanks between the fields are not where they belong")
	}
	switch tail[5] {
	case 'g':
		r.Mode = Gross
	case 'n':
		r.Mode = Net
	default:
		return damaged("the mode is not g or n")
	}
	var num, unit bool
	r.Unit, unit = unitWord(trimBlanks(tail[2:4]))
	if !unit {
		return damaged("the unit is not known")
	}
	if tail[0] != ' ' {
		r.Status, r.Why = Invalid, "a status letter whose meaning is not known"
		return nil
	}
	digits := frame[2 : n-9]
	r.Value, num = signedNumber(frame[1 : n-9])
	if !num || len(digits) == 7 && r.Value.Places == 0 {
		return damaged("the weight is not six digits")
	}
	r.Status = OK
	return nil
}
