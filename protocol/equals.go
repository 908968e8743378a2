package protocol

// What equals-reversed and equals-forward have in common.
//
// A frame has nine bytes and nothing ends it but the next '='. The formats look
// alike, carry no check and no unit, and a byte lost or added turns one weight
// into another. So a frame is handed out only when the next '=' (or the end of
// the input) shows that it had nine bytes and not ten; the eight behind '=' must
// be digits and exactly one point, with the sign in its place; and a frame is
// believed when the next one is equal. Which of the two it is, the user has to
// say: =000.3000 is 3.000 reversed and 0.3000 forward.

var equalsLines = []Line{
	{9600, 8, 'N', 1, "XK3190 indicator family manual: 1200 to 9600, 8N1"},
	{4800, 8, 'N', 1, "XK3190 indicator family manual: 1200 to 9600, 8N1"},
	{2400, 8, 'N', 1, "XK3190 indicator family manual: 1200 to 9600, 8N1"},
	{1200, 8, 'N', 1, "XK3190 indicator family manual: 1200 to 9600, 8N1"},
}

// splitEquals drops a line end behind a frame, which some cable or tool added:
// it changes no digit.
func splitEquals(b []byte, atEOF bool) (drop int, frame []byte) {
	drop, frame = splitRun(b, atEOF, '=')
	for len(frame) > 0 && isEnd(frame[len(frame)-1]) {
		frame = frame[:len(frame)-1]
	}
	return drop, frame
}

func checkEquals(frame []byte) error {
	if len(frame) == 0 || frame[0] != '=' {
		return foreign("it does not open with =")
	}
	if len(frame) != 9 {
		return damaged("it does not have nine bytes")
	}
	return nil
}

// equalsWeight reads the eight characters in reading order: the sign, then
// digits with one point. The point may be the last character, for an
// instrument without decimals has to put it somewhere.
func equalsWeight(b [8]byte, r *Reading) error {
	if b[0] != '0' && b[0] != '-' {
		return damaged("the sign is not 0 or -")
	}
	digits := b[1:]
	if !isDigit(digits[0]) || !hasPoint(digits) {
		return damaged("no digits with a point")
	}
	d, ok := ParseDigits(digits)
	if !ok {
		return damaged("no digits with a point")
	}
	d.Neg = b[0] == '-'
	r.Value, r.Status = d, OK
	return nil
}
