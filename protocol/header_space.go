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
	Summary:   "WT, US or QT, then a number padded with blanks: WT    +0.1278  g",
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
	if len(b) < 3 || b[2] != ' ' && b[2] != '+' && b[2] != '-' {
		return foreign("no header WT, US or QT")
	}
	stable := Yes
	switch string(b[:2]) {
	case "WT", "QT":
	case "US":
		stable = No
	default:
		return foreign("no header WT, US or QT")
	}
	switch string(trimBlanks(b[2:])) {
	case "E":
		r.Status = Overload
		return nil
	case "-E":
		r.Status = Underload
		return nil
	}
	if len(b) != 16 {
		return damaged("not 16 columns")
	}
	v, err := touchingNumber(trimLeft(b[2:13]))
	if err != nil {
		return err
	}
	u, ok := rightUnit(b[13:])
	switch {
	case !ok:
		return damaged("unknown unit")
	case b[0] == 'Q' && u != UnitPieces:
		return damaged("a count in a unit of mass")
	}
	r.Status, r.Value, r.Unit, r.Stable = OK, v, u, stable
	return nil
}

// touchingNumber reads a number whose sign touches its first digit; only a zero
// has none.
func touchingNumber(num []byte) (Decimal, error) {
	signed := len(num) > 0 && (num[0] == '+' || num[0] == '-')
	if signed && len(num) > 1 && num[1] == ' ' {
		return Decimal{}, damaged("the sign does not touch the number")
	}
	v, ok := paddedNumber(num)
	if !ok {
		return Decimal{}, damaged("the number does not end in column 13")
	}
	if !signed && v.Coef != 0 {
		return Decimal{}, damaged("a weight without its sign")
	}
	return v, nil
}
