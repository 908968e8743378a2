package protocol

import "bytes"

// lf-weight-status-etx: the parcel-and-till poll. The answer to W holds the
// weight and, on a line of its own, the status.
//
//	LF 02.340LB CR LF S00 CR ETX      weight and status
//	LF _2LB_03.5OZ CR LF S00 CR ETX   pounds and ounces: exactly 35.5 oz
//	LF ^^^^^^LB CR LF S02 CR ETX      ^ over, _ under, - zero error
//	LF S10 CR ETX                     status only: moving, or out of range
//	LF ? CR ETX                       command not known
//
// The status characters are 0x30 plus bits. First: 1 motion, 2 at zero, 4 RAM
// error, 8 EEPROM error. Second: 1 under, 2 over, 4 ROM error, 8 calibration
// error; 0x40 tells that a third follows. Third: bits 0..1 range, 2 net,
// 3 initial zero error. Old models write the unit in lower case and no S.
//
// Sources: Ohaus "Aviator 7000" pp. 47..49; NCI 6702 p. 14 and 7800 p. 32; Avery
// Weigh-Tronix 7821 p. 25; Salter Brecknell 3700LP p. 11; Adam MDW pp. 12..14;
// garlick/brewcop test/query.c (from a real 6702).
//
// The frame opens at LF, holds a second LF, and ends at ETX. Refused: a number
// that does not fill six columns (a minus may stand before them), for a digit
// less or more shows in nothing else; bits that are not 0x30; under and over at
// once; ounces that make a pound; and a weight beside a fault.
var lfWeightStatusETX = &Format{
	Name:    "lf-weight-status-etx",
	Summary: "LF, weight and unit, a line of status characters, ETX",
	Example: `\n02.340LB\r\nS00\r\x03`,
	Split:   splitLFWeightStatus,
	Parse:   parseLFWeightStatus,
	Lines: []Line{
		{9600, 7, 'E', 1, "Ohaus Aviator 7000 pp. 47..49; NCI 6702 p. 14"},
		{9600, 8, 'N', 1, "from memory"},
	},
	Ask: &Ask{Weight: []byte("W\r"), Zero: []byte("Z\r"), Tare: []byte("T\r")},
}

// splitLFWeightStatus looks for ETX and walks back from it: to the LF before
// the status, and over one more line to the LF before the weight. What stands
// before that is garbage or a cut answer, and is handed out first.
func splitLFWeightStatus(b []byte, atEOF bool) (drop int, frame []byte) {
	w := b[:min(len(b), junkLimit)]
	end := bytes.IndexByte(w, etx)
	if end < 0 {
		if len(w) < junkLimit && !atEOF {
			return 0, nil
		}
		return junk(w)
	}
	start := bytes.LastIndexByte(w[:end], '\n')
	if start > 0 && w[start-1] == '\r' {
		if i := bytes.LastIndexByte(w[:start], '\n'); i >= 0 && printable(w[i+1:start-1]) {
			start = i
		}
	}
	if start > 0 {
		return junk(w[:start])
	}
	return end + 1, w[:end+1]
}

func parseLFWeightStatus(frame []byte, r *Reading) error {
	n := len(frame)
	if n < 2 || frame[0] != '\n' {
		return foreign("it does not open with LF")
	}
	if n < 4 || frame[n-2] != '\r' || frame[n-1] != etx {
		return damaged("it does not end with CR ETX")
	}
	body := frame[1 : n-2]
	if len(body) == 1 && body[0] == '?' {
		return r.is(Error, "it does not know the command")
	}
	var weight, status []byte
	if i := bytes.Index(body, []byte("\r\n")); i >= 0 {
		weight, status = body[:i], body[i+2:]
		if i == 0 {
			return damaged("an empty line where the weight should be")
		}
	} else {
		status = body
	}
	if len(status) > 0 && status[0] == 'S' {
		status = status[1:]
	}
	return readPoll(weight, status, r)
}

func readPoll(weight, status []byte, r *Reading) error {
	if err := checkPollStatus(status); err != nil {
		return err
	}
	first, second := status[0], status[1]
	if len(status) == 3 {
		r.Mode = Gross
		if status[2]&4 != 0 {
			r.Mode = Net
		}
	}
	filler := fillerOf(weight)
	switch {
	case second&3 == 3:
		return damaged("under and over at once")
	case first&0x0c != 0 || second&0x0c != 0:
		return r.is(Error, "memory or calibration fault")
	case len(status) == 3 && status[2]&8 != 0 || filler == '-':
		return r.is(Error, "zero error: empty the pan and switch it on again")
	case second&3 != 0 || filler != 0:
		return pollOutOfRange(second, filler, r)
	case weight == nil && first&1 != 0:
		return r.is(Error, "moving: no weight yet")
	case weight == nil:
		return r.is(Invalid, "a status without a weight")
	}
	if !poundsOunces(weight, r) && !plainPoll(weight, r) {
		return damaged("the weight is not a number and a unit")
	}
	r.Status, r.Stable = OK, Yes
	if first&1 != 0 {
		r.Stable = No
	}
	return nil
}

// checkPollStatus holds the status to what it says of its own length.
func checkPollStatus(status []byte) error {
	const base, more = 0x30, 0x40
	switch {
	case len(status) < 2 || len(status) > 3 || status[0]&0xf0 != base:
		return damaged("the status is not two or three characters from 0 to ?")
	case len(status) == 2 && status[1]&0xf0 != base,
		len(status) == 3 && (status[1]&0xf0 != base|more || status[2]&0xf0 != base):
		return damaged("the status does not say how long it is")
	}
	return nil
}

// pollOutOfRange reads a load over or under the range, by the status or by what
// stands in the place of the weight.
func pollOutOfRange(second, filler byte, r *Reading) error {
	over, under := second&2 != 0, second&1 != 0
	switch {
	case over && filler == '_', under && filler == '^':
		return damaged("weight and status contradict each other")
	case over || filler == '^':
		r.Status = Overload
	default:
		r.Status = Underload
	}
	return nil
}

// fillerOf finds the character that fills a field without a weight: all but the
// unit at the end is '^', '_' or '-'. 0 when it holds anything else.
func fillerOf(weight []byte) byte {
	n := len(weight)
	for n > 0 && isLetter(weight[n-1]) {
		n--
	}
	f := trimBlanks(weight[:n])
	if len(f) < 2 {
		return 0
	}
	c := f[0]
	if c != '^' && c != '_' && c != '-' {
		return 0
	}
	for _, x := range f {
		if x != c && x != '.' {
			return 0
		}
	}
	return c
}

// plainPoll reads a number and a unit, as "02.340LB".
func plainPoll(b []byte, r *Reading) bool {
	n := len(b)
	for n > 0 && isLetter(b[n-1]) {
		n--
	}
	field := b[:n]
	if len(field) != 6 && (len(field) != 7 || field[0] != '-') {
		return false
	}
	var ok, unit bool
	r.Value, ok = minusNumber(field)
	r.Unit, unit = unitWord(b[n:])
	return ok && unit
}

// poundsOunces reads a compound such as " 2LB 03.5OZ" into ounces: 16 to the
// pound (UK Weights and Measures Act 1985, Schedule 1 Part V), so the sum is
// exact.
func poundsOunces(b []byte, r *Reading) bool {
	i := 0
	for i < len(b) && !isLetter(b[i]) {
		i++
	}
	if i+2 >= len(b) {
		return false
	}
	lb, ok := minusNumber(b[:i])
	if u, isUnit := unitWord(b[i : i+2]); !ok || !isUnit || u != UnitPound || lb.Places != 0 || lb.Coef > 10_000 {
		return false
	}
	rest := b[i+2:]
	if len(rest) < 4 || rest[0] != ' ' {
		return false
	}
	n := len(rest) - 2
	oz, ok := number(trimLeft(rest[:n]))
	if u, isUnit := unitWord(rest[n:]); !ok || !isUnit || u != UnitOunce || oz.Places > 6 {
		return false
	}
	scale := uint64(pow10(int(oz.Places)))
	if oz.Coef >= 16*scale {
		return false
	}
	r.Value = Decimal{Coef: lb.Coef*16*scale + oz.Coef, Places: oz.Places, Neg: lb.Neg}
	r.Unit = UnitOunce
	return true
}

// minusNumber is number behind blanks and perhaps a minus; a plus is not sent.
func minusNumber(b []byte) (Decimal, bool) {
	d, ok := paddedNumber(b)
	return d, ok && trimLeft(b)[0] != '+'
}
