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
	Lines: []Line{
		{9600, 8, 'N', 1, "from memory"},
		{9600, 7, 'E', 1, "from memory"},
	},
	Ask: &Ask{Weight: []byte("\nW\r"), Zero: []byte("\nZ\r"), Tare: []byte("\nT\r")},
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
	if len(body) == 1 && body[0] == '?' {
		r.Status, r.Why = Error, "it does not know the command"
		return nil
	}
	if len(body) != 18 || !printable(body) {
		return damaged("it does not have 18 characters between LF and CR")
	}
	if !isDigit(body[1]) || body[3] != ' ' && body[3] != 'M' || body[4] != ' ' {
		return damaged("a flag column holds what cannot stand there")
	}
	var known bool
	if r.Mode, known = flagMode(body[2]); !known {
		return damaged("the mode is not G, N or T")
	}
	status, why, known := scaleFlag(body[0])
	if !known {
		return damaged("the scale flag is not known")
	}
	if status != OK {
		r.Status, r.Why = status, why
		return nil
	}
	var num, unit bool
	r.Value, num = paddedNumber(body[5:15])
	r.Unit, unit = leftUnit(body[15:18])
	if !num || !unit {
		return damaged("weight or unit is not readable")
	}
	if r.Mode == Tare {
		r.Status, r.Why = Invalid, "the stored tare, not the load"
		return nil
	}
	r.Status, r.Stable = OK, Yes
	if body[3] == 'M' {
		r.Stable = No
	}
	return nil
}

// flagMode reads the third column.
func flagMode(c byte) (m Mode, known bool) {
	switch c {
	case 'G', 'g':
		return Gross, true
	case 'N', 'n':
		return Net, true
	case 'T', 't':
		return Tare, true
	}
	return ModeUnsaid, false
}

// scaleFlag reads the first column.
func scaleFlag(c byte) (s Status, why string, known bool) {
	switch c {
	case ' ', 'Z':
		return OK, "", true
	case 'O':
		return Overload, "", true
	case 'U':
		return Underload, "", true
	case 'E':
		return Error, "zero error", true
	case 'I':
		return Error, "not yet zeroed: empty the pan and press zero", true
	case 'T':
		return Error, "tare error", true
	}
	return Invalid, "", false
}
