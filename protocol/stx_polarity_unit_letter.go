package protocol

// stx-polarity-unit-letter: a stream with one letter each for unit, mode and
// status.
//
//	STX _ __12.34 K G _ CR LF
//	    ^                       polarity: blank or -
//	      ^^^^^^^               weight, to the right; dashes when it overflows
//	              ^             unit: L lb, K kg, T t, G g, O oz, blank none shown
//	                ^           mode: G gross, N net
//	                  ^         status: blank stable, M moving, I invalid, O out of range
//
// "KG" is kilogram and gross here, and "GN" is gram and net.
//
// Source: Rice Lake IQ plus 355 and 120 Plus manuals, stream-format sections.
//
// Out of range with a minus is the low end. Refused: any other letter, digits
// that do not end in the last weight column.
var stxPolarityUnitLetter = &Format{
	Name:    "stx-polarity-unit-letter",
	Summary: "STX, polarity, weight 7, letters for unit, mode and status, CR LF",
	Example: `\x02   12.34KG \r\n`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitStarted(b, atEOF, stx) },
	Parse:   parseSTXPolarityUnitLetter,
	Lines: []Line{
		{9600, 8, 'N', 1, "from memory"},
		{9600, 7, 'E', 1, "from memory"},
	},
}

func parseSTXPolarityUnitLetter(frame []byte, r *Reading) error {
	if len(frame) == 0 || frame[0] != stx {
		return foreign("it does not open with STX")
	}
	if len(frame) != 12 {
		return damaged("it does not have 12 characters before CR LF")
	}
	pol, weight := frame[1], frame[2:9]
	if pol != ' ' && pol != '-' {
		return damaged("the polarity is not blank or minus")
	}
	unit, ok := polarityUnit(frame[9])
	if !ok {
		return damaged("the unit letter is not known")
	}
	switch frame[10] {
	case 'G':
		r.Mode = Gross
	case 'N':
		r.Mode = Net
	default:
		return damaged("the mode is not G or N")
	}
	switch frame[11] {
	case ' ':
		r.Stable = Yes
	case 'M':
		r.Stable = No
	case 'I':
		r.Status, r.Why = Error, "the instrument calls its weight invalid"
		return nil
	case 'O':
		r.Status = Overload
		if pol == '-' {
			r.Status = Underload
		}
		return nil
	default:
		return damaged("the status letter is not known")
	}
	if allOf(weight, '-') {
		r.Status = Overload
		return nil
	}
	if r.Value, ok = signedNumber(frame[1:9]); !ok {
		return damaged("the weight is not digits with a point")
	}
	r.Status, r.Unit = OK, unit
	return nil
}

func polarityUnit(c byte) (Unit, bool) {
	switch c {
	case 'L':
		return UnitPound, true
	case 'K':
		return UnitKilogram, true
	case 'T':
		return UnitTonne, true
	case 'G':
		return UnitGram, true
	case 'O':
		return UnitOunce, true
	case ' ':
		return UnitNone, true
	}
	return UnitNone, false
}
