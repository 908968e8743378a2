package protocol

import "bytes"

// What this file cuts: frames with a start byte, frames that must be counted,
// and runs of frames that nothing ends. Lines of plain text are cut in
// framing.go.
//
// All of it keeps three promises. The same bytes give the same frames however
// they arrive, for nothing is decided before every byte that it depends on is
// there. What stands before a start byte never becomes part of a frame: it is
// handed out as a frame of its own, which no format can read, and bare line
// ends and NUL bytes between frames are dropped without a word. And no
// amount of garbage makes the buffer grow: after junkLimit bytes without a
// start it is handed out as it is.

// Control characters that open and close frames (ISO/IEC 646).
const (
	soh = 0x01
	stx = 0x02
	etx = 0x03
	eot = 0x04
)

// junkLimit is the longest piece of garbage that is kept while looking for a
// start byte. It is longer than any frame but a printed block.
const junkLimit = 256

// junk drops what is no frame. It shows it as one, unless it holds nothing but
// line ends and NUL bytes, which tell nothing.
func junk(b []byte) (drop int, frame []byte) {
	for _, c := range b {
		if !isEnd(c) && c != 0 {
			return len(b), b
		}
	}
	return len(b), nil
}

// seek brings a start byte to the front. With found set, b opens with it;
// otherwise drop and frame are what Split is to return.
func seek(b []byte, atEOF bool, start byte) (found bool, drop int, frame []byte) {
	w := b[:min(len(b), junkLimit)]
	switch i := bytes.IndexByte(w, start); {
	case i == 0:
		return true, 0, nil
	case i > 0:
		drop, frame = junk(b[:i])
	case len(w) == junkLimit || atEOF:
		drop, frame = junk(w)
	}
	return false, drop, frame
}

// cut ends a broken frame where the next start byte stands, so that a whole
// frame behind a cut one is not lost with it.
func cut(b []byte, start byte) (drop int, frame []byte) {
	n := len(b)
	if i := bytes.IndexByte(b[1:], start); i >= 0 {
		n = i + 1
	}
	return n, b[:n]
}

// splitBetween cuts frames that open with one byte and close with another,
// neither of which may stand inside; both belong to the frame.
func splitBetween(b []byte, atEOF bool, start, end byte) (drop int, frame []byte) {
	found, drop, frame := seek(b, atEOF, start)
	if !found {
		return drop, frame
	}
	w := b[:min(len(b), junkLimit)]
	for i, c := range w[1:] {
		switch c {
		case end:
			return i + 2, b[:i+2]
		case start:
			return i + 1, b[:i+1]
		}
	}
	if len(w) == junkLimit || atEOF {
		return len(w), w
	}
	return 0, nil
}

// splitStarted cuts lines that open with a start byte and end at CR, LF or
// both. The line end does not belong to the frame, as with lines of plain text.
func splitStarted(b []byte, atEOF bool, start byte) (drop int, frame []byte) {
	found, drop, frame := seek(b, atEOF, start)
	if !found {
		return drop, frame
	}
	w := b[:min(len(b), junkLimit)]
	for i, c := range w[1:] {
		switch {
		case isEnd(c):
			return i + 2, b[:i+1]
		case c == start:
			return i + 1, b[:i+1]
		}
	}
	if len(w) == junkLimit || atEOF {
		return len(w), w
	}
	return 0, nil
}

// splitCounted cuts frames of n bytes that open with a start byte and whose
// inner bytes (a checksum) may look like a start or an end, so that they must
// be counted. Where the byte at place mark is not end, the count began at the
// wrong place and goes on at the next start byte.
func splitCounted(b []byte, atEOF bool, start byte, n, mark int, end byte) (drop int, frame []byte) {
	found, drop, frame := seek(b, atEOF, start)
	switch {
	case !found:
		return drop, frame
	case len(b) < n && !atEOF:
		return 0, nil
	case len(b) < n:
		return cut(b, start)
	case b[mark] != end:
		return cut(b[:n], start)
	}
	return n, b[:n]
}

// splitRun cuts frames that open with a start byte, which cannot stand inside,
// and that nothing ends but the next start. The frame is handed out when that
// start is there (or the input ends) and not before: a byte too many, which
// would shift the digits of a counted frame, then shows in the length.
func splitRun(b []byte, atEOF bool, start byte) (drop int, frame []byte) {
	found, drop, frame := seek(b, atEOF, start)
	if !found {
		return drop, frame
	}
	w := b[:min(len(b), junkLimit)]
	if i := bytes.IndexByte(w[1:], start); i >= 0 {
		return i + 1, b[:i+1]
	}
	if len(w) == junkLimit || atEOF {
		return len(w), w
	}
	return 0, nil
}

// allOf tells whether b is made of c alone; an empty field is not.
func allOf(b []byte, c byte) bool {
	for _, x := range b {
		if x != c {
			return false
		}
	}
	return len(b) > 0
}

// hasPoint tells whether a number shows its decimals.
func hasPoint(b []byte) bool { return bytes.IndexByte(b, '.') >= 0 }

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

// xor is the block check of several frames.
func xor(b []byte) (x byte) {
	for _, c := range b {
		x ^= c
	}
	return x
}

// hexPair compares two upper-case hexadecimal digits with a check byte.
func hexPair(b []byte, want byte) bool {
	const digits = "0123456789ABCDEF"
	return len(b) == 2 && b[0] == digits[want>>4] && b[1] == digits[want&15]
}
