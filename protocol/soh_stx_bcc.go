package protocol

// soh-stx-bcc: a dialogue and a frame with a block check.
//
//	host ENQ (05), scale ACK (06), host DC1 (11), scale:
//	SOH STX S _ 01.250 kg g ETX EOT
//	        ^                         S stable, U moving
//	          ^                       sign: blank or -; F out of range
//	            ^^^^^^                weight with point; FFFFFF out of range
//	                   ^^             unit
//	                      ^           XOR of the 10 bytes from S to the unit
//
// Source: CAS "SW-II" manual p. 15; Mertech CAS-M documentation; r_keeper
// scale-driver documentation.
//
// The check byte may be SOH, ETX or EOT, so the 15 bytes are counted. Refused: a
// check that does not fit, and an F without FFFFFF behind it.
//
// Nothing comes unasked.
var sohSTXBCC = &Format{
	Name:    "soh-stx-bcc",
	Summary: "SOH, STX, S or U, sign, weight 6, unit 2, XOR, ETX, EOT",
	Example: `\x01\x02S 01.250kgg\x03\x04`,
	Split:   splitSOHSTX,
	Parse:   parseSOHSTXBCC,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
	Ask:     &Ask{Greet: []byte("\x05"), Ready: []byte{ack}, Weight: []byte("\x11"), Only: true, Zero: []byte("<ZK>\t"), Tare: []byte("<TK>\t")},
}

func splitSOHSTX(b []byte, atEOF bool) (drop int, frame []byte) {
	if len(b) > 0 && b[0] == ack {
		return 1, b[:1]
	}
	return splitCounted(b, atEOF, soh, 15, 14, eot)
}

func parseSOHSTXBCC(frame []byte, r *Reading) error {
	switch {
	case len(frame) == 1 && frame[0] == ack:
		return r.is(Invalid, "an acknowledgement, not a weight")
	case len(frame) < 2 || frame[0] != soh || frame[1] != stx:
		return foreign("it does not open with SOH STX")
	case len(frame) != 15 || frame[13] != etx || frame[14] != eot:
		return damaged("it does not end with ETX EOT after 13 characters")
	case xor(frame[2:12]) != frame[12]:
		return damaged("the check byte does not fit")
	case !r.rest(frame[2], 'S', 'U'):
		return damaged("the first letter is not S or U")
	}
	switch sign, weight := frame[3], frame[4:10]; {
	case allOf(weight, 'F') && (sign == 'F' || sign == ' ' || sign == '-'):
		return r.out(sign == '-')
	case allOf(weight, 'F'):
		return damaged("the sign is not blank, - or F")
	case sign != ' ' && sign != '-':
		return damaged("the sign is not blank or -")
	case !r.number(signedDigits(sign == '-', weight)) || !r.unit(frame[10:12]):
		return damaged("weight or unit is not readable")
	}
	return r.ok()
}
