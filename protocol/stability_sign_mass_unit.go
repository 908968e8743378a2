package protocol

// stability-sign-mass-unit: print-outs and replies of one maker's balances.
//
//	printed and streamed, 16 columns        answer to a command, 3 more in front
//	column  1      stability: blank stable,          1..3  the command
//	               '?' moving, '^' over,             4..   as printed
//	               'v' under range
//	        2      blank
//	        3      sign: '-' or blank
//	        4..12  number, right-aligned (11 on verified
//	               models, and the line is two longer)
//	        13     blank
//	        14..16 unit, left-aligned
//
//	      183.64 g
//	? -    2.237 lb
//	^      0.000 kg      no weight, whatever the digits
//	S    -      8.5 g    answer to S
//	SI ?       18.5 kg   answer to SI
//	SI I                 cannot now; A accepted, D done, E time-out, ^ v range
//	^                    a print by hand out of range
//
// Sources: Radwag communication protocol sections (balances, PUE indicators);
// KERN PLJ operating instructions.
var stabilitySignMassUnit = &Format{
	Name:      "stability-sign-mass-unit",
	Summary:   "stability mark, sign, padded number, unit, perhaps behind the command",
	Example:   `? -    2.237 lb \r\n`,
	Split:     splitLine,
	Parse:     parseStabilitySignMassUnit,
	OneLength: true,
	Lines:     []Line{{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"}},
	Ask:       &Ask{Weight: []byte("SI\r\n"), Zero: []byte("Z\r\n"), Tare: []byte("T\r\n")},
}

func parseStabilitySignMassUnit(b []byte, r *Reading) error {
	switch len(b) {
	case 1:
		if !stabilityRange(b[0], r) {
			return foreign("no stability mark")
		}
		return nil
	case 16, 18:
		return stabilityWeight(b, r)
	case 19, 21:
		switch string(b[:3]) {
		case "S  ", "SI ", "SU ", "SUI":
			return stabilityWeight(b[3:], r)
		case "OT ":
			if err := stabilityWeight(b[3:], r); err != nil {
				return damaged("a tare that cannot be read")
			}
			*r = Reading{Mode: Tare, Why: "this is the tare, not the load"}
			return nil
		}
		return foreign("no command in front")
	case 2:
		if string(b) == "ES" {
			return r.is(Error, "ES: unknown command")
		}
	}
	return stabilityReply(b, r)
}

func stabilityRange(mark byte, r *Reading) bool {
	switch mark {
	case '^':
		r.Status = Overload
	case 'v':
		r.Status = Underload
	default:
		return false
	}
	return true
}

func stabilityWeight(b []byte, r *Reading) error {
	n := len(b)
	switch out := b[0] == '^' || b[0] == 'v'; {
	case b[1] != ' ' || b[2] != ' ' && b[2] != '-' || b[n-4] != ' ':
		return foreign("no stability mark, sign and unit in their columns")
	case !out && !r.rest(b[0], ' ', '?'):
		return foreign("no stability mark")
	case !r.number(signedNumber(b[2 : n-4])):
		return damaged("the number does not end in its last column")
	case !r.unitLeft(b[n-3:]):
		return damaged("unknown unit")
	case out:
		return r.out(b[0] == 'v')
	}
	return r.ok()
}

func stabilityReply(b []byte, r *Reading) error {
	if len(b) < 3 || len(b) > 5 || b[len(b)-2] != ' ' {
		return foreign("no line of 16 or 18 columns, and no answer")
	}
	switch string(b[:len(b)-2]) {
	case "S", "SI", "SU", "SUI", "C1", "C0", "CU1", "CU0", "Z", "T", "OT", "UT":
	default:
		return foreign("no known command in front")
	}
	switch c := b[len(b)-1]; c {
	case 'A', 'D':
		r.Why = "an acknowledgement"
	case 'I':
		r.Status, r.Why = Error, "the instrument cannot do it now"
	case 'E':
		r.Status, r.Why = Error, "no stable weight in time"
	default:
		if !stabilityRange(c, r) {
			return damaged("unknown answer")
		}
	}
	return nil
}
