package protocol

// bcd-ff-frame: six binary bytes.
//
//	FF 42 34 12 00 00
//	^                   start: no BCD byte can be FF
//	   ^                status: bits 0..2 decimals, 3..4 mode, 5 negative, 6 stable, 7 overflow
//	      ^^ ^^ ^^      six BCD digits, lowest pair first
//	               ^    unit: 0 kg, 1 lb
//
// Source: Yousheng JCS-B manual.
//
// Nothing ends a frame but the next FF. It is handed out when that is there, or
// the input ends: a byte doubled on the way would else shift the digits (34 34 12
// for 34 12 00) and still make six good bytes. Refused: a nibble above 9, more
// decimals than leave a digit before the point, an unknown unit, and mode bits
// other than 00, for what they mean was not read (a count is no weight).
// Overflow with the negative bit is the low end.
var bcdFFFrame = &Format{
	Name:    "bcd-ff-frame",
	Summary: "six bytes: FF, status, three of BCD with the lowest first, unit",
	Example: `\xffB4\x12\x00\x00`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitRun(b, atEOF, 0xff) },
	Parse:   parseBCDFF,

	RangeBit: true,
	Lines:    []Line{{9600, 8, 'N', 1, "from memory"}},
}

func parseBCDFF(frame []byte, r *Reading) error {
	if len(frame) == 0 || frame[0] != 0xff {
		return foreign("it does not open with FF")
	}
	if len(frame) != 6 {
		return damaged("it does not have six bytes")
	}
	status := frame[1]
	switch frame[5] {
	case 0:
		r.Unit = UnitKilogram
	case 1:
		r.Unit = UnitPound
	default:
		return damaged("the unit is not 0 or 1")
	}
	var n uint64
	for _, c := range [3]byte{frame[4], frame[3], frame[2]} {
		if c>>4 > 9 || c&15 > 9 {
			return damaged("a nibble above 9")
		}
		n = n*100 + uint64(c>>4)*10 + uint64(c&15)
	}
	if status&7 > 5 {
		return damaged("more decimals than digits")
	}
	if status&0x18 != 0 {
		return damaged("mode bits that are not those of weighing")
	}
	switch {
	case status&0xa0 == 0xa0:
		return r.is(Underload, "")
	case status&0x80 != 0:
		return r.is(Overload, "")
	}
	r.Value = Decimal{Coef: n, Places: status & 7, Neg: status&0x20 != 0}
	r.Stable = No
	if status&0x40 != 0 {
		r.Stable = Yes
	}
	r.Status = OK
	return nil
}
