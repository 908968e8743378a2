package protocol

// header-space: another menu choice of header-comma instruments, for printing.
//
//	column  1..2   header: WT stable weight, US unstable, QT count
//	        3..13  number, right-aligned; its sign touches
//	               the first digit, and only a zero has none
//	        14..16 unit, right-aligned
//
//	WT    +0.1278  g
//	WT          E        out of range; -E under range
//
// Source: A&D manuals FX-i, GX, AD-4212 ("DP format"); the first line is built
// from their rule.
var headerSpace = &Format{
	Name:      "header-space",
	Summary:   "WT, US or QT, then a number padded with blanks",
	Example:   `WT    +0.1278  g\r\n`,
	Split:     splitAckLine,
	Parse:     parseHeaderSpace,
	OneLength: true,
	Lines:     headerCommaLines,
	Ask:       headerCommaAsk,
}

func parseHeaderSpace(b []byte, r *Reading) error {
	if ok, err := headerCommaWord(b, r); ok {
		return err
	}
	if len(b) < 3 || !isSign(b[2]) {
		return foreign("no header WT, US or QT")
	}
	switch string(b[:2]) {
	case "WT", "QT":
		r.Stable = Yes
	case "US":
		r.Stable = No
	default:
		return foreign("no header WT, US or QT")
	}
	switch string(trimBlanks(b[2:])) {
	case "E":
		return r.is(Overload, "")
	case "-E":
		return r.is(Underload, "")
	}
	if len(b) != 16 {
		return damaged("not 16 columns")
	}
	num := trimLeft(b[2:13])
	signed := len(num) > 0 && (num[0] == '+' || num[0] == '-')
	switch {
	case signed && len(num) > 1 && num[1] == ' ':
		return damaged("the sign does not touch the number")
	case !r.number(paddedNumber(num)):
		return damaged("the number does not end in column 13")
	case !signed && r.Value.Coef != 0:
		return damaged("a weight without its sign")
	case !r.unitRight(b[13:]):
		return damaged("unknown unit")
	case b[0] == 'Q' && r.Unit != UnitPieces:
		return damaged("a count in a unit of mass")
	}
	return r.ok()
}
