package protocol

// blank-unit-when-moving: another menu choice of header-comma instruments, made
// for moisture titrators. The unit is there only while the weight is stable.
//
//	column  1      sign, '+' or '-'; a zero may have none
//	        2..9   number, right-aligned
//	        10     blank
//	        11..14 unit, left-aligned; blank while moving
//
//	+    1.27 g
//	     H             out of range; L under range
//
// Source: A&D manuals FX-i, GX, AD-4212 ("KF format"). The places of the columns
// are from memory; a line that does not keep them is refused.
var blankUnitWhenMoving = &Format{
	Name:      "blank-unit-when-moving",
	Summary:   "sign, padded number, unit only when stable, 14 columns",
	Example:   `+    1.27 g   \r\n`,
	Split:     splitAckLine,
	Parse:     parseBlankUnitWhenMoving,
	OneLength: true,
	Lines:     headerCommaLines,
	Ask:       headerCommaAsk,
}

func parseBlankUnitWhenMoving(b []byte, r *Reading) error {
	if ok, err := headerCommaWord(b, r); ok {
		return err
	}
	switch word := trimBlanks(b); {
	case len(b) <= 16 && string(word) == "H":
		return r.is(Overload, "")
	case len(b) <= 16 && string(word) == "L":
		return r.is(Underload, "")
	case len(b) != 14:
		return foreign("not 14 columns")
	case !r.number(signedNumber(b[:9])) || b[9] != ' ':
		return foreign("no number that ends in column 9")
	case b[0] == ' ' && r.Value.Coef != 0:
		return damaged("a weight without its sign")
	case !r.unitAtRest(b[10:]):
		return damaged("unknown unit")
	}
	return r.ok()
}
