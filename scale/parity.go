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

// parityOf judges bytes read with eight bits: 'E' or 'O' when every one of them
// carries that parity in its top bit and some have it set, 0 otherwise. Pure
// text read rightly has no top bit at all; binary frames keep no parity.
func parityOf(b []byte) byte {
	high, even, odd := 0, 0, 0
	for _, c := range b {
		if c >= 0x80 {
			high++
		}
		if oddOnes(c) {
			odd++
		} else {
			even++
		}
	}
	switch {
	// With fewer than eight bytes chance alone could agree.
	case len(b) < 8 || high == 0:
		return 0
	case odd == 0:
		return 'E'
	case even == 0:
		return 'O'
	}
	return 0
}

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
