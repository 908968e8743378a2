package protocol

import "bytes"

// header-comma-mode: the commonest line of weighing indicators.
//
//	column  1..2   ST stable, US unstable, OL over (or under) range, UL under
//	               range, TL tilted
//	        3      comma
//	        4..5   GS gross, NT net, TR tare; on some one letter, G or N
//	        6      comma
//	        7      sign: '+', '-' or blank
//	        8..14  number, right-aligned, blanks or zeros in front
//	        15..16 unit
//
//	ST,GS,+011.120kg
//	ST,NT,-  0.500kg     blanks between the sign and its digits are normal
//	ST,GS,   245.6 g
//	ST,GS    20.7g       no second comma: the unit is left-aligned in 3
//	ST,GS,     0.0,kg    comma before the unit
//	US,NT,-113.0254kg    8 characters of number
//	01ST,GS,...          the number of the scale in front, on instruments with several
//
// Sources: CAS "CI-600D" and "PDI" manuals (18-byte output); Selleton SL-7516,
// Tiger TI-02-P, Excell AM4, Vector VI-200, General Measure M02 (hex example),
// Triner TS-700, KERN KFB / KFN-TM, Dini Argeo indicator protocol; captures in
// chumpon-asaneerat/NSerialCommTools, folders TScaleQHW and TScaleNHB; tests of
// ellery-it/odoo-serial-scale-drivers; imTigger/webapp-hardware-bridge issue 4.
// TL as tilted is from memory; it never is a weight.
//
// Records with a tare or pieces behind more commas hold two numbers and are
// refused.
var headerCommaMode = &Format{
	Name:      "header-comma-mode",
	Summary:   "state, gross or net, sign, number, unit",
	Example:   `ST,GS,+011.120kg\r\n`,
	Split:     splitLine,
	Parse:     parseHeaderCommaMode,
	OneLength: true,
	Lines: []Line{
		{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "CAS CI-600D, Dini Argeo indicator protocol"},
		{Baud: 9600, Bits: 7, Parity: 'E', Stop: 1, Source: "manuals of weighing terminals: menu"},
		{Baud: 9600, Bits: 7, Parity: 'O', Stop: 1, Source: "manuals of weighing terminals: menu"},
		{Baud: 4800, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"},
	},
}

func parseHeaderCommaMode(b []byte, r *Reading) error {
	if len(b) > 3 && isDigit(b[0]) && isDigit(b[1]) {
		b = b[2:]
		if b[0] == ',' {
			b = b[1:]
		}
	}
	claim, status, mode, rest, err := headerCommaModeHead(b, r)
	if err != nil {
		return err
	}
	comma := len(rest) > 0 && rest[0] == ','
	if comma {
		rest = rest[1:]
	}
	if status != OK {
		return headerCommaModeRange(status, mode, rest, r)
	}
	num, unit, ok := headerCommaModeFields(rest, comma)
	if !ok {
		return damaged("the number and unit fields have the wrong width")
	}
	v, ok := paddedNumber(num)
	if !ok || isDigit(num[0]) {
		return damaged("the number is not a sign and digits up to its last column")
	}
	if v.Places == 0 && !headerCommaModeWhole(num[1:]) {
		return damaged("digits without a point that look as if they had lost it")
	}
	u, ok := unitWord(trimBlanks(unit))
	if !ok {
		return damaged("unknown unit")
	}
	if mode == Tare {
		r.Mode, r.Why = Tare, "this is the tare, not the load"
		return nil
	}
	r.Status, r.Value, r.Unit, r.Stable, r.Mode = OK, v, u, claim, mode
	return nil
}

// headerCommaModeHead reads state and mode. Its messages name what the line was
// seen to be, for several formats open with the same two letters.
func headerCommaModeHead(b []byte, r *Reading) (claim Claim, status Status, mode Mode, rest []byte, err error) {
	err = errNoMode
	if len(b) < 5 || b[2] != ',' {
		return
	}
	status = OK
	switch string(b[:2]) {
	case "ST":
		claim = Yes
	case "US":
		claim = No
	case "OL":
		status = Overload
	case "UL":
		status = Underload
	case "TL":
		status = Error
	default:
		return
	}
	rest = b[5:]
	switch string(b[3:5]) {
	case "GS":
		mode = Gross
	case "NT":
		mode = Net
	case "TR":
		mode = Tare
	case "G,":
		mode, rest = Gross, b[4:]
	case "N,":
		mode, rest = Net, b[4:]
	default:
		return
	}
	return claim, status, mode, rest, nil
}

var errNoMode = foreign("no state and GS, NT or TR")

// headerCommaModeFields cuts the rest of a line into number (sign included) and
// unit. Every form has its own width, so that a line that lost a byte shows it.
func headerCommaModeFields(b []byte, comma bool) (num, unit []byte, ok bool) {
	switch {
	case !comma:
		// Unit left-aligned in 3.
		if len(b) != 11 || b[8] == ' ' {
			return nil, nil, false
		}
		return b[:8], b[8:], true
	case len(b) >= 11 && b[len(b)-3] == ',':
		if n := len(b) - 3; n == 8 || n == 9 {
			return b[:n], b[n+1:], true
		}
	case len(b) == 10:
		return b[:8], b[8:], true
	case len(b) == 11 && b[8] == ' ':
		return b[:8], b[8:], true
	case len(b) == 11:
		return b[:9], b[9:], true
	}
	return nil, nil, false
}

// headerCommaModeWhole tells whether a number field without a point can be whole
// units: seven columns, some of them padding, and one kind of padding.
func headerCommaModeWhole(b []byte) bool {
	if len(b) != 7 || b[0] != ' ' && b[0] != '0' {
		return false
	}
	digits := trimLeft(b)
	return b[0] == '0' || len(digits) == 1 || digits[0] != '0'
}

func headerCommaModeRange(status Status, mode Mode, rest []byte, r *Reading) error {
	rest = trimBlanks(rest)
	if len(rest) > 12 {
		return damaged("more than a number field and a unit")
	}
	n := len(rest)
	for n > 0 && (isLetter(rest[n-1]) || rest[n-1] == '%') {
		n--
	}
	num := rest[:n]
	if n < len(rest) {
		if _, ok := unitWord(rest[n:]); !ok {
			return damaged("unknown unit behind an overload")
		}
		num = bytes.TrimSuffix(num, []byte{','})
	}
	// Some instruments say OL at both ends; a minus before the filler is the low one.
	if status == Overload && len(num) > 1 && num[0] == '-' && num[1] != '-' {
		status = Underload
	}
	return headerCommaModeOut(status, mode, num, r)
}

// headerCommaModeOut reads a state that has a filler in the place of the number.
func headerCommaModeOut(status Status, mode Mode, num []byte, r *Reading) error {
	if !filler(num) {
		return damaged("an overload holds no such characters")
	}
	r.Status, r.Mode = status, mode
	if status == Error {
		r.Why = "the scale stands tilted"
	}
	return nil
}
