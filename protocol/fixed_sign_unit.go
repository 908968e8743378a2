package protocol

import "bytes"

// fixed-sign-unit: 14 columns, as one maker's laboratory balances print them.
//
//	column  1      sign: '+', '-' or blank
//	        2      blank; a long number may start here
//	        3..10  number, right-aligned
//	        11     blank
//	        12..14 unit, left-aligned; blank while the weight moves
//
//	+   123.56 g
//	+111.25507 mg
//	-    12.30        moving
//	+   123.5[6] g    a digit that is not verified stands in brackets, and the
//	                  line is two longer
//	      High        out of range; also H, Low, L
//	     Err 101      also --, C, Cal., APP.ERR, DIS.ERR, PRT.ERR
//
// Sources: Sartorius operating instructions LE (p. 51), CP (pp. 55..57), ME
// (p. 135), Master (pp. 77..79), Combics 3 (p. 95); OpenTrickler PR 79 (a capture
// in grains); tests of holgi/sartoriusb.
//
// With automatic printing on, ESC P stops and starts the stream instead of
// asking once.
var fixedSignUnit = &Format{
	Name:      "fixed-sign-unit",
	Summary:   "sign, number and unit in 14 fixed columns, unit only when stable",
	Example:   `+   123.56 g  \r\n`,
	Split:     splitLine,
	Parse:     parseFixedSignUnit,
	OneLength: true,
	Lines:     fixedSignUnitLines,
	Ask:       fixedSignUnitAsk,
}

var (
	fixedSignUnitLines = []Line{
		{Baud: 9600, Bits: 8, Parity: 'O', Stop: 1, Source: "Sartorius operating instructions Combics 3"},
		{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "Sartorius operating instructions: menu"},
		{Baud: 1200, Bits: 7, Parity: 'O', Stop: 1, Source: "Sartorius operating instructions LE, CP: factory setting"},
	}
	fixedSignUnitAsk = &Ask{Weight: []byte("\x1bP\r\n"), Zero: []byte("\x1bV\r\n"), Tare: []byte("\x1bU\r\n")}
)

func parseFixedSignUnit(b []byte, r *Reading) error {
	if len(b) == 0 || b[0] != '+' && b[0] != '-' && b[0] != ' ' {
		return foreign("no sign column")
	}
	if fixedSignUnitWord(b, r) {
		return nil
	}
	return fixedSignUnitWeight(b, r)
}

// fixedSignUnitWord reads the words that stand where a weight should.
func fixedSignUnitWord(b []byte, r *Reading) bool {
	if len(b) > 16 {
		return false
	}
	word := trimBlanks(b)
	switch string(word) {
	case "High", "H":
		r.Status = Overload
		return true
	case "Low", "L":
		r.Status = Underload
		return true
	case "--":
		r.Status, r.Why = Error, "no value yet"
		return true
	case "C", "Cal.", "Cal.Int.", "Cal.Ext.", "Cal. Int.", "Cal. Ext.":
		r.Status, r.Why = Error, "the instrument is adjusting itself"
		return true
	case "APP.ERR", "DIS.ERR", "PRT.ERR":
		r.Status, r.Why = Error, "the instrument reports "+string(word)
		return true
	}
	if digits, ok := bytes.CutPrefix(word, []byte("Err ")); ok && len(digits) >= 2 && len(digits) <= 3 {
		for _, c := range digits {
			if !isDigit(c) {
				return false
			}
		}
		r.Status, r.Why = Error, "the instrument reports error "+string(digits)
		return true
	}
	return false
}

func fixedSignUnitWeight(b []byte, r *Reading) error {
	var buf [14]byte
	if i := bytes.IndexByte(b, '['); i >= 0 {
		if len(b) != 16 || i != 9 || !isDigit(b[i+1]) || b[i+2] != ']' {
			return damaged("the brackets do not hold the last digit")
		}
		n := copy(buf[:], b[:i])
		buf[n] = b[i+1]
		copy(buf[n+1:], b[i+3:])
		b = buf[:]
	}
	switch {
	case len(b) != 14:
		return foreign("not 14 columns")
	case b[10] != ' ' || len(trimLeft(b[1:10])) == 0:
		return foreign("no number that ends in column 10")
	case !r.number(signedDigits(b[0] == '-', b[1:10])):
		return damaged("the number is not digits with one point")
	case string(b[11:]) == "gr ":
		r.Unit, r.Stable = UnitGrain, Yes
	case !r.unitAtRest(b[11:]):
		return damaged("unknown unit")
	}
	return r.ok()
}
