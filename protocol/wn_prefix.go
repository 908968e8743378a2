package protocol

// wn-prefix: two letters, the weight, kg. No checksum.
//
//	wn 001.171 kg CR LF
//	^^                    net
//	   ^^^^^^^            weight: minus in the first column; one blank when there is no point
//
// Source: captures in public point-of-sale client code; the weight columns are
// those of prefix-weight-checksum, which the same family sends.
//
// The width is exact, for nothing else shows a lost digit. ww (gross) and wt
// (tare) are known from memory only and never give a weight.
var wnPrefix = &Format{
	Name:    "wn-prefix",
	Summary: "wn, weight 7, kg, CR LF",
	Example: `wn001.171kg\r\n`,
	Split:   splitLine,
	Parse:   parseWNPrefix,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
}

func parseWNPrefix(frame []byte, r *Reading) error {
	switch {
	case len(frame) < 2 || frame[0] != 'w' || frame[1] != 'n' && frame[1] != 'w' && frame[1] != 't':
		return foreign("it does not open with wn")
	case len(frame) != 11 || string(frame[9:]) != "kg":
		return damaged("kg is not where it belongs")
	case !r.number(sevenColumns(frame[2:9])):
		return damaged("the weight is not digits with a point")
	case frame[1] != 'n':
		return r.is(Invalid, "not a net weight: only wn is known for certain")
	}
	r.Unit, r.Mode = UnitKilogram, Net
	return r.ok()
}
