package protocol

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// runNever feeds bytes out of which no weight may come, in whatever pieces they
// are cut.
func runNever(t *testing.T, f *Format, frames ...string) {
	t.Helper()
	for _, in := range frames {
		rs := decodeCut(f, Options{EachFrame: true}, []byte(in))
		assert.NotEmpty(t, rs, "%q", in)
		for _, r := range rs {
			assert.NotEqual(t, OK, r.Status, "%q reads as %s %s", in, r.Value, r.Unit)
			if r.Status == Invalid {
				assert.NotEmpty(t, r.Why, "%q", in)
			}
		}
	}
}

// runDamage takes a frame apart in every way that one byte allows and checks
// that what comes out is no weight or the same weight: one byte lost, one byte
// twice. With checked set, also one byte changed to any other, which only a
// frame with a check can notice.
func runDamage(t *testing.T, f *Format, frame string, checked bool) {
	t.Helper()
	o := Options{EachFrame: true}
	whole := decodeCut(f, o, []byte(frame))
	require.Len(t, whole, 1, "%q", frame)
	require.Equal(t, OK, whole[0].Status, "%q: %s", frame, whole[0].Why)
	check := func(what string, b []byte) {
		for _, r := range decodeCut(f, o, b) {
			if r.Status == OK && (r.Value != whole[0].Value || r.Unit != whole[0].Unit) {
				assert.Fail(t, "a wrong weight", "%q with %s is %q and reads as %s %s", frame, what, b, r.Value, r.Unit)
			}
		}
	}
	for i := range len(frame) {
		check("a byte lost", []byte(frame[:i]+frame[i+1:]))
		check("a byte twice", []byte(frame[:i+1]+frame[i:]))
		check("the end lost", []byte(frame[:i]))
		check("the start lost", []byte(frame[i:]))
		if !checked {
			continue
		}
		b := []byte(frame)
		for c := range 256 {
			b[i] = byte(c)
			check("a byte changed", b)
		}
	}
}

// framed lists the formats whose Split is not that of text lines.
func framed() []*Format {
	return []*Format{
		stxStatusWord, stxStatusWordSum8, stxStatusWordLoose, stxStatusWordLF, stxStatusWordShort,
		lfWeightStatusETX, stxWeightCR, lfFlagFields, stxPolarityUnitLetter, stxPolarityGapLegend,
		stxPolarityGapUnit, stxSignModeETX, crSignETX, stxSignDigitsXOR, equalsReversed, equalsForward,
		sohSTXBCC, sohSignStatusDigit, bcdFFFrame, colonLetterMass, counterPacket, letterKeyedBlock,
		titledBlock, multiLinePrint, hidPOSScale,
	}
}

// After garbage the next whole frames are read, and nothing but them.
func TestResynchronises(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, f := range framed() {
		if f == titledBlock {
			continue
		}
		frame := unquote(t, f.Example)
		want := decodeCut(f, Options{EachFrame: true}, frame)[0]
		for n := range 300 {
			noise := make([]byte, rnd.IntN(40))
			for i := range noise {
				noise[i] = byte(rnd.Uint32())
			}
			if n%3 == 0 {
				noise = frame[:n%len(frame)]
			}
			stream := bytes.Join([][]byte{noise, frame, frame, frame, frame}, nil)
			same := 0
			for _, r := range decodeCut(f, Options{EachFrame: true}, stream) {
				if r.Status == OK && assert.Equal(t, want.Value, r.Value, "%s after %q", f.Name, noise) {
					same++
				}
			}
			// Noise may look like the head of a frame and take the frame behind it
			// along, and what a false head took away may look like one again.
			assert.GreaterOrEqual(t, same, 2, "%s after %q", f.Name, noise)
		}
	}
}

// A stream gives the same frames in whatever pieces it comes.
func TestFramesDoNotDependOnCuts(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for _, f := range framed() {
		frame := unquote(t, f.Example)
		for range 100 {
			var stream []byte
			for range 12 {
				part := bytes.Clone(frame)
				switch rnd.IntN(4) {
				case 0:
					part[rnd.IntN(len(part))] = byte(rnd.Uint32())
				case 1:
					part = part[rnd.IntN(len(part)):]
				case 2:
					part = part[:rnd.IntN(len(part))]
				}
				stream = append(stream, part...)
			}
			whole := decodeCut(f, Options{EachFrame: true}, stream)
			var pieces [][]byte
			for rest := stream; len(rest) > 0; {
				n := 1 + rnd.IntN(min(len(rest), 9))
				pieces = append(pieces, rest[:n])
				rest = rest[n:]
			}
			require.Equal(t, whole, decodeCut(f, Options{EachFrame: true}, pieces...), "%s: %q", f.Name, stream)
		}
	}
}

// Split never holds on to more than one frame's worth of garbage.
func TestGarbageDoesNotGrow(t *testing.T) {
	for _, f := range framed() {
		frame := unquote(t, f.Example)
		for _, c := range []byte{frame[0], 'x', 0, '\r', 0xff, frame[len(frame)-1]} {
			b := bytes.Repeat([]byte{c}, 2*blockLimit)
			for len(b) > 0 && len(b) > blockLimit {
				drop, frame := f.Split(b, false)
				require.Positive(t, drop, "%s holds %d bytes of %#x", f.Name, len(b), c)
				require.LessOrEqual(t, len(frame), blockLimit)
				b = b[drop:]
			}
		}
	}
}
