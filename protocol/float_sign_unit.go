package protocol

// float-sign-unit: sixteen columns in which the minus may float.
//
//	_____-29.186_g__ CR LF
//	^                        blank, or M: an averaged (animal) or held weight
//	 ^                       blank or -
//	  ^^^^^^^^^^             number, to the right; in captures - touches the digits
//	             ^^^         unit, to the left; blank while moving
//	___________Error         fault
//	=Overload=               out of range
//
// Sources: KERN DE, PCB, FKB and FKT operating instructions (columns);
// eamars/OpenTrickler-RP2040-Controller issue 15 (captures, minus);
// ellery-it/odoo-serial-scale-drivers SSD-KernDE.py (=Overload=).
//
// Sister models send 14, 15 or 26 characters; those are refused, for a line cut
// in front looks the same. A held or averaged weight is not what is on the pan
// now, so it is handed out without a value.
var floatSignUnit = &Format{
	Name:    "float-sign-unit",
	Summary: "16 columns: M, sign, number 10 with a floating minus, unit 3, CR LF",
	Example: `     -29.186 g  \r\n`,
	Split:   splitLine,
	Parse:   parseFloatSignUnit,
	Lines:   []Line{{9600, 8, 'N', 1, "KERN DE operating instructions"}},
	Ask:     &Ask{Weight: []byte("w"), Tare: []byte("t")},
}

func parseFloatSignUnit(frame []byte, r *Reading) error {
	switch string(trimBlanks(frame)) {
	case "Error":
		if len(frame) > 16 {
			return foreign("it has more than 16 characters")
		}
		r.Status, r.Why = Error, "the instrument reports a fault"
		return nil
	case "=Overload=":
		r.Status = Overload
		return nil
	}
	if len(frame) != 16 || frame[12] != ' ' {
		return foreign("it does not have 16 characters with a blank in the 13th")
	}
	if frame[0] != ' ' && frame[0] != 'M' || frame[1] != ' ' && frame[1] != '-' {
		return foreign("the first two columns are not M or blank, - or blank")
	}
	field := trimLeft(frame[1:12])
	neg := len(field) > 0 && field[0] == '-'
	if neg {
		field = trimLeft(field[1:])
	}
	d, ok := number(field)
	if !ok {
		return damaged("the number is not digits with a point")
	}
	d.Neg = neg
	unit := frame[13:16]
	switch {
	case allOf(unit, ' '):
		r.Stable = No
	default:
		if r.Unit, ok = leftUnit(unit); !ok {
			return damaged("the unit is not known")
		}
		r.Stable = Yes
	}
	if frame[0] == 'M' {
		r.Status, r.Why = Invalid, "a held or averaged weight, not what is on the pan now"
		return nil
	}
	r.Value, r.Status = d, OK
	return nil
}
