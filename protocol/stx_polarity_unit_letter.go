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
	Lines:   linesFromMemory,
}

func parseSTXPolarityUnitLetter(frame []byte, r *Reading) error {
	switch {
	case len(frame) == 0 || frame[0] != stx:
		return foreign("it does not open with STX")
	case len(frame) != 12:
		return damaged("it does not have 12 characters before CR LF")
	case frame[1] != ' ' && frame[1] != '-':
		return damaged("the polarity is not blank or minus")
	}
	if r.Unit = polarityUnits[frame[9]]; r.Unit == UnitNone && frame[9] != ' ' {
		return damaged("the unit letter is not known")
	}
	switch status := frame[11]; {
	case !r.mode(frame[10], 'G', 'N'):
		return damaged("the mode is not G or N")
	case status == 'I':
		return r.is(Error, "the instrument calls its weight invalid")
	case status == 'O':
		return r.out(frame[1] == '-')
	case !r.rest(status, ' ', 'M'):
		return damaged("the status letter is not known")
	case allOf(frame[2:9], '-'):
		return r.is(Overload, "")
	case !r.number(signedNumber(frame[1:9])):
		return damaged("the weight is not digits with a point")
	}
	return r.ok()
}

var polarityUnits = [256]Unit{'L': UnitPound, 'K': UnitKilogram, 'T': UnitTonne, 'G': UnitGram, 'O': UnitOunce}
