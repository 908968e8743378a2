package protocol

// lf-flag-fields: the format of an industry association. LF leads, CR ends, and
// each flag has a column of its own.
//
//	LF _ 1 G M _ _____7.650 kg_ CR
//	   ^                            scale: blank fine, Z centre of zero, O over, U under,
//	                                E zero error, I not yet zeroed, T tare error
//	     ^                          range, a digit
//	       ^                        G gross, N net, T tare; lower case: high resolution
//	         ^                      M in motion, or blank
//	           ^                    reserved
//	             ^^^^^^^^^^         weight, to the right; dashes with E, I and T
//	                        ^^^     unit, to the left
//
// Source: Scale Manufacturers Association SCP-0499, as reproduced in the
// Sartorius PR 5210 / 5211 / 5220, BTEK T419S and Fairbanks FB2550 manuals.
//
// A tare is not the load and is handed out without a value. Refused: any other
// letter in a flag column, a number that does not end in its last column, and
// an unknown unit.
var lfFlagFields = &Format{
	Name:    "lf-flag-fields",
	Summary: "LF, five flag columns, weight 10, unit 3, CR (SMA SCP-0499)",
	Example: `\n 1G       5.025lb \r`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitBetween(b, atEOF, '\n', '\r') },
	Parse:   parseLFFlagFields,
	Lines:   linesFromMemory,
	Ask:     &Ask{Weight: []byte("\nW\r"), Zero: []byte("\nZ\r"), Tare: []byte("\nT\r")},
}

func parseLFFlagFields(frame []byte, r *Reading) error {
	n := len(frame)
	if n == 0 || frame[0] != '\n' {
		return foreign("it does not open with LF")
	}
	if frame[n-1] != '\r' {
		return damaged("it does not end with CR")
	}
	body := frame[1 : n-1]
	switch {
	case string(body) == "?":
		return r.is(Error, "it does not know the command")
	case len(body) != 18 || !printable(body):
		return damaged("it does not have 18 characters between LF and CR")
	case !isDigit(body[1]) || !r.rest(body[3], ' ', 'M') || body[4] != ' ':
		return damaged("a flag column holds what cannot stand there")
	case body[2] == 'T' || body[2] == 't':
		r.Mode = Tare
	case !r.mode(body[2]|0x20, 'g', 'n'):
		return damaged("the mode is not G, N or T")
	}
	if body[0] == ' ' || body[0] == 'Z' {
		return flaggedWeight(body, r)
	}
	switch body[0] {
	case 'O':
		return r.is(Overload, "")
	case 'U':
		return r.is(Underload, "")
	case 'E':
		return r.is(Error, "zero error")
	case 'I':
		return r.is(Error, "not yet zeroed: empty the pan and press zero")
	case 'T':
		return r.is(Error, "tare error")
	}
	return damaged("the scale flag is not known")
}

func flaggedWeight(body []byte, r *Reading) error {
	if !r.number(paddedNumber(body[5:15])) || !r.unitLeft(body[15:]) {
		return damaged("weight or unit is not readable")
	}
	if r.Mode == Tare {
		return r.is(Invalid, "the stored tare, not the load")
	}
	return r.ok()
}
