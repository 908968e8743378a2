package protocol

import "bytes"

// header-comma-csv: header-comma with a separator before the unit as well, as
// the menu of the same instruments offers it.
//
//	ST,+012.0078,  g
//	OL,+9999999E+19,  g
//	ST;+0000,1278;  g       decimal comma chosen: the separators turn to ';'
//	LAB-0123, 2004/07/01, 12:34:56, ST,+0000.1278,  g
//
// In front may stand, as the menu has it, an ID, the date and the time, each
// with a separator and a blank behind it.
//
// Sources: A&D manuals FX-i, GX, AD-4212 ("CSV format"). The decimal comma is a
// rule of A&D "AD-4212D" p. 27; no capture of it was found.
var headerCommaCSV = &Format{
	Name:      "header-comma-csv",
	Summary:   "header-comma with a comma before the unit, and perhaps ID, date and time in front",
	Example:   `ST,+012.0078,  g\r\n`,
	Split:     splitAckLine,
	Parse:     parseHeaderCommaCSV,
	OneLength: true,
	Lines:     headerCommaLines,
	Ask:       headerCommaAsk,
}

func parseHeaderCommaCSV(b []byte, r *Reading) error {
	if ok, err := headerCommaWord(b, r); ok {
		return err
	}
	sep, mark := byte(','), byte('.')
	if bytes.IndexByte(b, ';') >= 0 {
		sep, mark = ';', ','
	}
	// The weight is the last three fields, whatever stands in front.
	i := bytes.LastIndexByte(b, sep)
	if i < 0 {
		return foreign("no separators")
	}
	unit := b[i+1:]
	j := bytes.LastIndexByte(b[:i], sep)
	if j < 2 {
		return foreign("not three fields")
	}
	num, front := b[j+1:i], b[:j-2]
	claim, status, err := headerCommaHead(b[j-2:], r)
	if err != nil {
		return err
	}
	if len(num) < 2 || num[0] != '+' && num[0] != '-' {
		return damaged("no sign before the number")
	}
	if !headerCommaFront(front, sep) {
		return damaged("what stands in front is not an ID, a date and a time")
	}
	neg := num[0] == '-'
	num = num[1:]
	if status == Overload || status == Underload {
		if _, ok := rightUnit(unit); !ok && len(trimBlanks(unit)) > 0 {
			return damaged("unknown unit behind an overload")
		}
		return headerCommaRange(status, neg, num, r)
	}
	if !headerCommaWidths(num, unit) {
		return damaged("the number and unit fields have the wrong width")
	}
	var buf [9]byte
	digits := buf[:copy(buf[:], num)]
	for k, c := range digits {
		switch {
		case c == mark:
			digits[k] = '.'
		case !isDigit(c):
			return damaged("the number is not digits with one decimal mark")
		}
	}
	if bytes.IndexByte(digits, '.') < 0 && !bytes.Equal(trimLeft(unit), []byte("PC")) {
		return damaged("a weight without its decimal mark") // these instruments show decimals
	}
	return headerCommaWeight(b[j-2] == 'Q', neg, digits, unit, claim, status, r)
}

// headerCommaFront tells whether b is an ID, a date and a time, in this order,
// each of them perhaps missing, each with a separator and a blank behind it.
func headerCommaFront(b []byte, sep byte) bool {
	for last := 0; len(b) > 0; {
		i := bytes.IndexByte(b, sep)
		if i < 1 {
			return false
		}
		field, kind := trimBlanks(b[:i]), 0
		switch {
		case isShape(field, "0000/00/00"), isShape(field, "00/00/0000"):
			kind = 2
		case isShape(field, "00:00:00"):
			kind = 3
		case isID(field):
			kind = 1
		}
		if kind <= last {
			return false
		}
		last = kind
		b = b[i+1:]
		if len(b) > 0 && b[0] == ' ' {
			b = b[1:]
		}
	}
	return true
}

// isShape compares b with a pattern in which 0 stands for any digit.
func isShape(b []byte, shape string) bool {
	if len(b) != len(shape) {
		return false
	}
	for i, c := range b {
		if shape[i] == '0' && !isDigit(c) || shape[i] != '0' && shape[i] != c {
			return false
		}
	}
	return true
}

// isID tells whether b can be an identification that a user typed: letters,
// digits and dashes. A header, or a number with a sign or a point, is none: it
// would be a second weight in the line.
func isID(b []byte) bool {
	if len(b) == 0 || len(b) > 20 || b[0] == '-' {
		return false
	}
	switch string(b) {
	case "ST", "US", "QT", "OL", "UL", "TR", "WT", "GS", "NT":
		return false
	}
	for _, c := range b {
		switch {
		case isDigit(c), c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z', c == '-', c == '_', c == ' ', c == '/':
		default:
			return false
		}
	}
	return true
}
