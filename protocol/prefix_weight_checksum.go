package protocol

// prefix-weight-checksum: two letters for the mode, the weight, kg, and a
// checksum.
//
//	WG 004.139 kg 3D CR LF
//	^^                       WG gross, WN net
//	   ^^^^^^^               weight: minus in the first column; one blank when there is no point
//	              ^^         XOR of the 11 bytes before, two upper-case hex digits
//	_________ OL 23 CR LF    out of range: OL over, LO under
//
// Source: XK3190-A12E manual.
//
// Refused: a checksum that does not fit, and any other length.
var prefixWeightChecksum = &Format{
	Name:    "prefix-weight-checksum",
	Summary: "WG or WN, weight 7, kg, XOR in hex, CR LF",
	Example: `WG004.139kg3D\r\n`,
	Split:   splitLine,
	Parse:   parsePrefixWeightChecksum,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
}

func parsePrefixWeightChecksum(frame []byte, r *Reading) error {
	switch {
	case string(frame) == "         OL23":
		return r.is(Overload, "")
	case string(frame) == "         LO23":
		return r.is(Underload, "")
	case len(frame) < 2 || frame[0] != 'W' || !r.mode(frame[1], 'G', 'N'):
		return foreign("it does not open with WG or WN")
	case len(frame) != 13 || string(frame[9:11]) != "kg":
		return damaged("kg is not where it belongs")
	case !hexPair(frame[11:], xor(frame[:11])):
		return damaged("the checksum does not fit")
	case !r.number(sevenColumns(frame[2:9])):
		return damaged("the weight is not digits with a point")
	}
	r.Unit = UnitKilogram
	return r.ok()
}

// sevenColumns reads a weight that fills its columns with zeros, the sign in
// the first of them. Without a point there is one blank in front.
func sevenColumns(b []byte) (d Decimal, ok bool) {
	field := b
	if b[0] == ' ' {
		if hasPoint(b) {
			return Decimal{}, false
		}
		field = b[1:]
	}
	neg := field[0] == '-'
	if neg {
		field = field[1:]
	}
	d, ok = number(field)
	d.Neg = neg && ok
	return d, ok && (d.Places > 0) == (b[0] != ' ')
}
