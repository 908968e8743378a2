package protocol

// splitLine is the Split of every format made of text lines.
//
// A line ends at any CR or LF. The frame holds neither, so it is the same
// whether CR and LF come in one read, in two, in the order LF CR, or alone; the
// second of them only ends an empty line, and empty lines are skipped. NULs at
// either end are what lines idle at while a port opens; they belong to no
// instrument and are stripped.
//
// A run that never ends is none of splitLine's business: the Decoder bounds it.
func splitLine(b []byte, atEOF bool) (drop int, frame []byte) {
	for drop < len(b) && isEnd(b[drop]) {
		drop++
	}
	if drop > 0 {
		return drop, nil
	}
	for i, c := range b {
		if isEnd(c) {
			return i + 1, trimNUL(b[:i])
		}
	}
	if atEOF {
		return len(b), trimNUL(b)
	}
	return 0, nil
}

// splitAckLine is splitLine for instruments that acknowledge a command with a
// lone ACK, with no terminator, in front of the line that answers it.
func splitAckLine(b []byte, atEOF bool) (drop int, frame []byte) {
	if len(b) > 0 && b[0] == ack {
		return 1, b[:1]
	}
	return splitLine(b, atEOF)
}

const ack = 0x06

func isEnd(c byte) bool { return c == '\r' || c == '\n' }

func trimNUL(b []byte) []byte {
	for len(b) > 0 && b[0] == 0 {
		b = b[1:]
	}
	for len(b) > 0 && b[len(b)-1] == 0 {
		b = b[:len(b)-1]
	}
	return b
}
