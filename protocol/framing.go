package protocol

// splitLine is the Split of every format made of text lines.
//
// A line ends at any CR or LF. The frame holds neither, so it is the same
// whether CR and LF come in one read, in two, in the order LF CR, or alone; the
// second of them only ends an empty line, and empty lines are skipped. NULs in
// front are what lines idle at while a port opens, or fill between two lines;
// they belong to no instrument and are stripped. A NUL anywhere else stays and
// spoils its line, for that is what a serial port makes of a character with a
// wrong parity or frame (POSIX termios, INPCK without PARMRK): "oz" and a NUL may
// have been "ozt".
//
// A run that never ends is none of splitLine's business: the Decoder bounds it.
func splitLine(b []byte, atEOF bool) (drop int, frame []byte) {
	drop, frame = splitWhole(b, atEOF)
	for len(frame) > 0 && frame[0] == 0 {
		frame = frame[1:]
	}
	return drop, frame
}

// splitWhole is splitLine for lines whose first column may be missing without
// being missed: a NUL in front of them may have been the minus.
func splitWhole(b []byte, atEOF bool) (drop int, frame []byte) {
	for drop < len(b) && isEnd(b[drop]) {
		drop++
	}
	if drop > 0 {
		return drop, nil
	}
	for i, c := range b {
		if isEnd(c) {
			return i + 1, b[:i]
		}
	}
	if atEOF {
		return len(b), b
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
