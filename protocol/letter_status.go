package protocol

import "bytes"

// letter-status: replies of one letter command set, which several makers speak.
//
//	column  1      S, the command that is answered
//	        3      status: S stable, D dynamic, I cannot now, L bad parameter,
//	               + overload, - underload
//	        5..14  weight, right-aligned; the minus touches
//	               the first digit
//	        16..   unit, one to five letters
//
//	S S     100.00 g
//	S D     129.07 g
//	S S    -100.00 g
//	S D 12:07.50 lb:oz    pounds and ounces, not padded
//	S +
//	S I
//	S S      Error 10b    a fault stands in the weight field
//	ES                    also ET and EL: whole-line errors
//	TA A      2.486 g     the tare memory, not the load
//	I4 A "1234567"        who it is; sent unasked when the power comes on
//
// Sources: METTLER TOLEDO "JS Series Operating Instructions" p. 30, "AT Balances
// / MS Balances Operating Instructions" p. 87; BTEK "T104 Series Indicators"
// App. B; InstrumentKit tests/test_mettler_toledo/test_mt_sics.py; PyLabRobot
// pylabrobot/mettler_toledo; artisan-roaster-scope/artisan PR 2223 (the capture
// in pounds and ounces).
//
// A parcel scale in repeat mode may never say S (same pull request). The weight
// is what the display shows after taring, so its mode is net.
var letterStatus = &Format{
	Name:    "letter-status",
	Summary: "command letter, status letter, weight in 10 columns, unit",
	Example: `S S     100.00 g\r\n`,
	Split:   splitLine,
	Parse:   parseLetterStatus,
	Lines:   []Line{{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "METTLER TOLEDO JS Series Operating Instructions"}},
	Ask:     &Ask{Weight: []byte("SI\r\n"), Zero: []byte("Z\r\n"), Tare: []byte("T\r\n")},
	Ends:    true, // the unit is as long as it is: "oz" may be cut from "ozt"

	OneLength: true, // and the rest of the line is fixed: without its k, "kg" is a thousandth
}

func parseLetterStatus(b []byte, r *Reading) error {
	if len(b) >= 3 && b[0] == 'S' && b[1] == ' ' {
		return letterStatusWeight(b[2], b[3:], r)
	}
	if len(b) == 2 && b[0] == 'E' {
		switch b[1] {
		case 'S':
			r.Why = "ES: the instrument did not know the command"
		case 'T':
			r.Why = "ET: transmission or parity error"
		case 'L':
			r.Why = "EL: the command cannot be done"
		default:
			return foreign("no command and status letter")
		}
		r.Status = Error
		return nil
	}
	id, rest, ok := bytes.Cut(b, []byte{' '})
	if !ok || len(rest) == 0 {
		return foreign("no command and status letter")
	}
	if len(id) == 2 && id[0] == 'I' && isDigit(id[1]) {
		return letterStatusIdentity(id, rest, r)
	}
	switch string(id) {
	case "T", "TI", "TA", "TAC", "Z", "ZI":
		return letterStatusReply(id, rest, r)
	}
	return foreign("no command and status letter")
}

// letterStatusWeight reads what stands behind "S ".
func letterStatusWeight(status byte, rest []byte, r *Reading) error {
	if len(rest) == 0 {
		switch status {
		case '+':
			r.Status = Overload
		case '-':
			r.Status = Underload
		case 'I':
			r.Status, r.Why = Error, "busy, or no stable weight before the time-out"
		case 'L':
			r.Status, r.Why = Error, "wrong parameter"
		case 'A':
			// A relative answers "S A" to a command; it tells nothing of a weight.
			return foreign("S A is another format's acknowledgement")
		default:
			return damaged("the line ends behind the status")
		}
		return nil
	}
	stable := Yes
	switch status {
	case 'S':
	case 'D':
		stable = No
	default:
		return damaged("unknown status letter before a weight")
	}
	if rest[0] != ' ' {
		return damaged("no blank behind the status")
	}
	rest = rest[1:]
	if fault := trimBlanks(rest); len(fault) >= 5 && string(fault[:5]) == "Error" {
		if !letterStatusFault(fault[5:]) {
			return damaged("unreadable hardware fault")
		}
		return r.is(Error, "the instrument reports a hardware fault: "+string(fault))
	}
	v, u, ok := letterStatusAmount(rest)
	if !ok {
		return damaged("no weight in 10 columns, blank, unit")
	}
	r.Status, r.Value, r.Unit, r.Stable, r.Mode = OK, v, u, stable, Net
	return nil
}

// letterStatusFault reads what follows "Error": nothing, or a blank, digits, and
// b (balance) or t (terminal).
func letterStatusFault(b []byte) bool {
	if len(b) == 0 {
		return true
	}
	n := len(b) - 1
	if b[0] != ' ' || n < 2 || b[n] != 'b' && b[n] != 't' {
		return false
	}
	for _, c := range b[1:n] {
		if !isDigit(c) {
			return false
		}
	}
	return true
}

func letterStatusAmount(b []byte) (Decimal, Unit, bool) {
	if amount, ok := bytes.CutSuffix(b, []byte(" lb:oz")); ok {
		v, ok := colonOunces(amount)
		return v, UnitOunce, ok
	}
	if len(b) < 12 || len(b) > 16 || b[10] != ' ' {
		return Decimal{}, UnitNone, false
	}
	v, ok := minusNumber(b[:10])
	if !ok || v.Neg && trimLeft(b)[1] == ' ' { // a digit was lost behind the minus
		return Decimal{}, UnitNone, false
	}
	u, ok := leftUnit(b[11:])
	return v, u, ok
}

// colonOunces turns "12:07.50" into ounces, exactly: 199.50. It asks for the two
// decimals of the capture, for without a width of its own that is all that
// shows a lost byte.
func colonOunces(b []byte) (Decimal, bool) {
	b = trimLeft(b)
	neg := len(b) > 0 && b[0] == '-'
	if neg {
		b = b[1:]
	}
	lb, oz, ok := bytes.Cut(b, []byte{':'})
	if !ok || len(b) > 10 || len(oz) < 2 || !isDigit(oz[1]) {
		return Decimal{}, false
	}
	p, okP := number(lb)
	o, okO := number(oz)
	if !okP || !okO || p.Places != 0 || o.Places != 2 {
		return Decimal{}, false
	}
	if o.Coef >= 16_00 {
		return Decimal{}, false
	}
	return Decimal{Coef: p.Coef*16_00 + o.Coef, Places: o.Places, Neg: neg}, true
}

// letterStatusReply reads the answers to taring and zeroing. Those that carry a
// weight carry the tare.
func letterStatusReply(id, rest []byte, r *Reading) error {
	r.Why = "an acknowledgement"
	if len(rest) > 1 {
		if id[0] != 'T' || rest[1] != ' ' {
			return damaged("unreadable answer to a command")
		}
		if _, _, ok := letterStatusAmount(rest[2:]); !ok {
			return damaged("no weight in 10 columns, blank, unit")
		}
		r.Mode, r.Why = Tare, "this is the tare, not the load"
	}
	switch rest[0] {
	case 'A', 'S', 'D':
		return nil
	case 'I', 'L', '+', '-':
		if len(rest) == 1 {
			return r.is(Error, "the instrument could not tare or zero now")
		}
	}
	return damaged("unknown status letter")
}

func letterStatusIdentity(id, rest []byte, r *Reading) error {
	if !printable(rest) {
		return damaged("control characters in it")
	}
	switch {
	case len(rest) == 1 && (rest[0] == 'I' || rest[0] == 'L'):
		return r.is(Error, "the instrument could not tell who it is")
	case len(rest) > 2 && (rest[0] == 'A' || rest[0] == 'B') && rest[1] == ' ':
		r.Why = "the instrument says who it is"
		if id[1] == '4' {
			r.Why = "the instrument says who it is; unasked, it was restarted and its tare is lost"
		}
		return nil
	}
	return damaged("unreadable identity")
}
