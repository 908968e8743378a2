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
	switch word := trimBlanks(frame); {
	case string(word) == "Error" && len(frame) > 16:
		return foreign("it has more than 16 characters")
	case string(word) == "Error":
		return r.is(Error, "the instrument reports a fault")
	case string(word) == "=Overload=":
		return r.is(Overload, "")
	case len(frame) != 16 || frame[12] != ' ':
		return foreign("it does not have 16 characters with a blank in the 13th")
	case frame[0] != ' ' && frame[0] != 'M' || frame[1] != ' ' && frame[1] != '-':
		return foreign("the first two columns are not M or blank, - or blank")
	case !r.number(minusNumber(frame[1:12])):
		return damaged("the number is not digits with a point")
	case !r.unitAtRest(frame[13:]):
		return damaged("the unit is not known")
	case frame[0] == 'M':
		return r.is(Invalid, "a held or averaged weight, not what is on the pan now")
	}
	return r.ok()
}
