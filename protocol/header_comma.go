package protocol

import (
	"bytes"
	"cmp"
)

// header-comma: the standard line of one maker's balances.
//
//	column  1..2   header: ST stable weight, US unstable, QT stable count,
//	               OL out of range, UL under range, TR the tare
//	        3      comma
//	        4      sign, '+' or '-'; zero carries '+'
//	        5..    8 or 9 characters, digits with leading zeros and a point
//	        last 3 unit, right-aligned (2 or 4 beside 9 characters)
//
//	ST,+00123.45  g
//	US,-00183.69  g
//	QT,+00012345 PC
//	OL,+9999999E+19     balances: filler without a unit
//	OL,+999999.9  g     bench scales
//	EC,E11              an error instead of an answer
//
// Sources: A&D manuals for EK-L (p. 28), EK-AEP (p. 28), FX-i (p. 54), FZ-i WP
// (p. 59), GX, AD-4212; OpenTHC scale-reader README (captures). The wider fields
// ("ST,+0004775.7   g", "ST,+00004.700kg") come from public driver tests. The
// minus in the filler as the low end is the same manuals' rule.
//
// "  t" is tola and never tonne in this line (same manuals), and a tola differs
// from place to place, so it is shown but never turned into grams.
var headerComma = &Format{
	Name:      "header-comma",
	Summary:   "header, sign, leading zeros, unit",
	Example:   `ST,+00123.45  g\r\n`,
	Split:     splitAckLine,
	Parse:     parseHeaderComma,
	OneLength: true,
	Lines:     headerCommaLines,
	Ask:       headerCommaAsk,
}

// The siblings of header-comma are choices in the same instruments' menu, so
// they share its port settings and commands.
var (
	headerCommaLines = []Line{
		{Baud: 2400, Bits: 7, Parity: 'E', Stop: 1, Source: "A&D manuals EK-L, FX-i: factory setting"},
		{Baud: 4800, Bits: 7, Parity: 'E', Stop: 1, Source: "A&D manuals: needed for 20 lines a second"},
		{Baud: 9600, Bits: 7, Parity: 'E', Stop: 1, Source: "A&D manuals: menu"},
		{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "A&D manuals: menu"},
	}
	headerCommaAsk = &Ask{Weight: []byte("Q\r\n"), Zero: []byte("Z\r\n"), Tare: []byte("T\r\n")}
)

func parseHeaderComma(b []byte, r *Reading) error {
	if ok, err := headerCommaWord(b, r); ok {
		return err
	}
	if len(b) < 4 || b[2] != ',' || b[3] != '+' && b[3] != '-' {
		return foreign("no header, comma and sign")
	}
	claim, status, err := headerCommaHead(b, r)
	if err != nil {
		return err
	}
	neg, rest := b[3] == '-', b[4:]
	if status == Overload || status == Underload {
		return headerCommaRange(status, neg, rest, r)
	}
	digits := 0
	for digits < len(rest) && (isDigit(rest[digits]) || rest[digits] == '.') {
		digits++
	}
	if !headerCommaWidths(rest[:digits], rest[digits:]) {
		return damaged("the number and unit fields have the wrong width")
	}
	return headerCommaWeight(b[0] == 'Q', neg, rest[:digits], rest[digits:], claim, status, r)
}

// headerCommaWord reads the messages that all siblings share.
func headerCommaWord(b []byte, r *Reading) (ok bool, err error) {
	switch {
	case len(b) == 1 && b[0] == ack:
		return true, r.is(Invalid, "an acknowledgement")
	case len(b) == 6 && string(b[:4]) == "EC,E" && isDigit(b[4]) && isDigit(b[5]):
		code := string(b[3:])
		return true, r.is(Error, code+": "+cmp.Or(headerCommaErrors[code], "the instrument reports an error"))
	case len(b) >= 3 && string(b[:3]) == "EC,":
		return true, damaged("an error code is E and two digits")
	}
	return false, nil
}

// headerCommaErrors are the codes whose meaning the manuals give.
var headerCommaErrors = map[string]string{
	"E00": "communications error",
	"E01": "unknown command",
	"E02": "not ready",
	"E03": "time-out",
	"E04": "command too long",
	"E06": "wrong form of a command",
	"E07": "parameter out of range",
	"E11": "no stable weight",
	"E17": "out of range",
	"E20": "calibration weight too heavy or too light",
	"E21": "calibration weight too heavy or too light",
}

// headerCommaHead reads the two letters at the front of b. status is OK for a
// weight or a count, Overload or Underload, or Invalid for a tare.
func headerCommaHead(b []byte, r *Reading) (claim Claim, status Status, err error) {
	switch string(b[:2]) {
	case "ST", "QT":
		return Yes, OK, nil
	case "US":
		return No, OK, nil
	case "OL":
		return Unsaid, Overload, nil
	case "UL":
		return Unsaid, Underload, nil
	case "TR":
		return Unsaid, Invalid, nil
	}
	return Unsaid, Invalid, foreign("the header is none of ST, US, QT, OL")
}

// headerCommaRange reads what stands behind the sign of an OL or UL line.
func headerCommaRange(status Status, neg bool, rest []byte, r *Reading) error {
	if unit := bytes.TrimRight(rest, "abcdefghijklmnopqrstuvwxyzABCDFGHIJKLMNOPQRSTUVWXYZ%"); len(unit) < len(rest) {
		if _, ok := rightUnit(rest[len(unit):]); !ok {
			return damaged("unknown unit behind an overload")
		}
		rest = unit
	}
	if len(rest) < 6 || len(rest) > 13 || !filler(rest) {
		return damaged("an overload is filled with nines")
	}
	r.Status = status
	if neg {
		r.Status = Underload
	}
	return nil
}

// headerCommaWidths tells whether number and unit have widths that belong
// together. Beside 9 characters of number a unit of 2 has no blank: one that has
// is a line in which a blank became a digit.
func headerCommaWidths(digits, unit []byte) bool {
	switch len(digits) {
	case 8:
		return len(unit) == 3
	case 9:
		return len(unit) == 3 || len(unit) == 4 || len(unit) == 2 && unit[0] != ' '
	}
	return false
}

// headerCommaWeight reads zero-filled digits and the unit behind them.
func headerCommaWeight(count, neg bool, digits, unit []byte, claim Claim, status Status, r *Reading) error {
	v, ok := number(digits)
	if !ok {
		return damaged("the number is not digits with one point")
	}
	u, ok := rightUnit(unit)
	switch {
	case !ok:
		return damaged("unknown unit")
	case count && u != UnitPieces:
		return damaged("a count in a unit of mass")
	case len(digits) == 9 && v.Places == 0:
		return damaged("so many digits and no point among them")
	}
	if u == UnitTonne {
		u = UnitTola
	}
	if status != OK {
		r.Mode, r.Why = Tare, "this is the tare, not the load"
		return nil
	}
	v.Neg = neg
	r.Status, r.Value, r.Unit, r.Stable = OK, v, u, claim
	return nil
}
