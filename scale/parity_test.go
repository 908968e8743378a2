package scale

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"tared/protocol"
)

// withParity sends seven-bit text with a parity bit, as eight-bit eyes see it.
func withParity(s string, odd bool) []byte {
	b := []byte(s)
	for i, c := range b {
		if oddOnes(c) != odd {
			b[i] = c | 0x80
		}
	}
	return b
}

func TestParityOf(t *testing.T) {
	// Bytes of a question that went unsolved (StackOverflow 17991062): every one of
	// them has an odd number of ones.
	assert.Equal(t, byte('O'), protocol.ParityOf([]byte("\xb0\xae\xb0\xb0 kg \r\x8a")))
	assert.Equal(t, byte('E'), protocol.ParityOf(withParity("ST,+00123.45  g\r\n", false)))
	assert.Equal(t, byte('O'), protocol.ParityOf(withParity("ST,+00123.45  g\r\n", true)))
	assert.Zero(t, protocol.ParityOf([]byte("ST,+00123.45  g\r\n")), "plain text")
	// The lamp byte of a 22-byte indicator line and a binary frame use the top bit
	// for something else.
	assert.Zero(t, protocol.ParityOf([]byte("ST,GS,1\xc4,    13.5 kg\r\n")))
	assert.Zero(t, protocol.ParityOf([]byte("\xffB4\x12\x00\x00\xff\x02\x36\x12\x00\x00")))
	assert.Zero(t, protocol.ParityOf([]byte("\xb0\xb0")), "too few to tell")
}

func TestSevenBits(t *testing.T) {
	const line = "ST,+00123.45  g\r\n"
	for _, odd := range []bool{false, true} {
		s := sevenBits{odd: odd}
		b := append(withParity(line, odd), withParity(line, odd)...)
		s.filter(b)
		assert.Equal(t, line, string(b[len(line):]))

		bad := withParity(line, odd)
		bad[5] ^= 1
		s.filter(bad)
		assert.Equal(t, byte(wrongParity), bad[5])

		plain := sevenBits{odd: odd}
		b = []byte(line)
		plain.filter(b)
		assert.Equal(t, line, string(b), "an adapter that does seven bits")
	}
}

func TestParityIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[ -~]{16,60}\r\n`).Draw(t, "text")
		odd := rapid.Bool().Draw(t, "odd")
		b := withParity(text, odd)
		if p := protocol.ParityOf(b); p != 0 {
			assert.Equal(t, odd, p == 'O')
		}
	})
}
