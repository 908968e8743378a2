package protocol

// print-net-letter: what the print key of letter-status balances sends in their
// printer dialect.
//
//	column  1..5   blank
//	        6      N, net
//	        7..19  weight, right-aligned
//	        20     blank
//	        21..24 unit, left-aligned
//
//	     N       0.3749 g
//
// Nothing tells whether the load rests, and nothing is sent until Print is
// pressed.
//
// Source: chumpon-asaneerat/NSerialCommTools, folder Documents/LuckyTex
// Devices/MS204TS00 (hex log of two lines).
var printNetLetter = &Format{
	Name:      "print-net-letter",
	Summary:   "print key: the letter N, weight, unit, nothing else",
	Example:   `     N       0.3749 g   \r\n`,
	Split:     splitLine,
	Parse:     parsePrintNetLetter,
	OneLength: true,
	Lines:     []Line{{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"}},
}

func parsePrintNetLetter(b []byte, r *Reading) error {
	switch {
	case len(b) < 6 || string(b[:6]) != "     N":
		return foreign("no N in column 6")
	case len(b) != 24 || b[6] != ' ' || b[19] != ' ':
		return damaged("not 24 columns")
	case !r.number(paddedNumber(b[7:19])):
		return damaged("the number does not end in column 19")
	case !r.unitLeft(b[20:]):
		return damaged("unknown unit")
	}
	r.Mode = Net
	return r.ok()
}
