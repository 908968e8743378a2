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
	Lines: []Line{
		{9600, 8, 'N', 1, "from memory"},
	},
}

func parsePrefixWeightChecksum(frame []byte, r *Reading) error {
	switch string(frame) {
	case "         OL23":
		r.Status = Overload
		return nil
	case "         LO23":
		r.Status = Underload
		return nil
	}
	if len(frame) < 2 || frame[0] != 'W' || frame[1] != 'G' && frame[1] != 'N' {
		return foreign("it does not open with WG or WN")
	}
	if len(frame) != 13 || frame[9] != 'k' || frame[10] != 'g' {
		return damaged("kg is not where it belongs")
	}
	if !hexPair(frame[11:], xor(frame[:11])) {
		return damaged("the checksum does not fit")
	}
	d, ok := sevenColumns(frame[2:9])
	if !ok {
		return damaged("the weight is not digits with a point")
	}
	r.Value, r.Unit, r.Status, r.Mode = d, UnitKilogram, OK, Gross
	if frame[1] == 'N' {
		r.Mode = Net
	}
	return nil
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
