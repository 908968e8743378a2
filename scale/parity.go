package scale

import "math/bits"

// Traces of a wrong parity setting. A line of seven data bits and a parity bit
// that is read with eight bits shows every second or so character with its top
// bit set.

// oddOnes tells whether an odd number of the eight bits is set.
func oddOnes(c byte) bool { return bits.OnesCount8(c)&1 == 1 }

// wrongParity stands for a byte whose parity is wrong: SUB, which ASCII sets aside
// for this, so that no format takes it for a digit.
const wrongParity = 0x1a

// sevenBits repairs a line of seven data bits on an adapter that cannot do seven:
// it hands out the parity bit as a top bit. On one that can, no byte has a top
// bit and nothing is changed. Once a byte has shown that parity comes along, a
// byte whose parity is wrong becomes SUB, so that its frame is refused.
type sevenBits struct {
	odd  bool
	seen bool // a top bit with the right parity came
}

func (s *sevenBits) filter(b []byte) {
	for i, c := range b {
		right := oddOnes(c) == s.odd
		if c >= 0x80 && right {
			s.seen = true
		}
		switch {
		case !s.seen:
		case right:
			b[i] = c & 0x7f
		default:
			b[i] = wrongParity
		}
	}
}
