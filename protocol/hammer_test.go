package protocol

import (
	"bytes"
	"flag"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// hammer is how many spoilt streams each format and the detector get. The usual
// run tries a few; before a format is called done it gets ten million:
//
//	go test ./protocol -run Hammer -hammer 10000000 -timeout 24h
var hammer = flag.Int("hammer", 2000, "spoilt streams for each format and the detector")

// spoiler makes streams of one format's frames and spoils them, the same ones in
// every run.
type spoiler struct {
	*rand.Rand
	frames [][]byte
	buf    []byte
}

func newSpoiler(t testing.TB, f *Format) *spoiler {
	h := fnv.New64a()
	h.Write([]byte(f.Name))
	s := &spoiler{Rand: rand.New(rand.NewPCG(h.Sum64(), 1)), frames: [][]byte{unquote(t, f.Example)}}
	for _, c := range captures(t) {
		if c.format != f || c.opts.Parity != 0 {
			continue
		}
		for b := c.bytes; len(b) > 0; {
			drop, _ := f.Split(b, true)
			if drop <= 0 {
				break
			}
			s.frames = append(s.frames, b[:drop])
			b = b[drop:]
		}
	}
	return s
}

// telling are bytes that mean something to most formats.
const telling = " +-.,0123456789\r\n\x02\x03\x00\xff"

// stream gives one to four frames, spoilt in up to three places: a byte changed,
// a bit turned, bytes lost, doubled, put in, swapped, a digit for a digit.
func (s *spoiler) stream() []byte {
	s.buf = s.buf[:0]
	for range 1 + s.IntN(4) {
		s.buf = append(s.buf, s.frames[s.IntN(len(s.frames))]...)
	}
	for range s.IntN(4) {
		if len(s.buf) < 2 {
			break
		}
		i := s.IntN(len(s.buf))
		switch s.IntN(8) {
		case 0:
			s.buf[i] = byte(s.Uint32())
		case 1:
			s.buf[i] ^= 1 << s.IntN(8)
		case 2:
			s.buf = append(s.buf[:i], s.buf[min(len(s.buf), i+1+s.IntN(3)):]...)
		case 3:
			s.buf = append(s.buf[:i+1], s.buf[i:]...)
		case 4:
			s.buf = append(s.buf[:i+1], s.buf[i:]...)
			s.buf[i] = telling[s.IntN(len(telling))]
		case 5:
			j := s.IntN(len(s.buf))
			s.buf[i], s.buf[j] = s.buf[j], s.buf[i]
		case 6:
			s.buf[i] = '0' + byte(s.IntN(10))
		case 7:
			s.buf = s.buf[i:]
		}
	}
	return s.buf
}

// TestHammer spoils the frames of every format. Nothing panics, a cut changes
// nothing, every digit of a weight stands in its frame, a frame that is no weight
// carries none, and no frame is accepted whose check byte does not fit.
func TestHammer(t *testing.T) {
	for _, f := range All() {
		t.Run(f.Name, func(t *testing.T) {
			t.Parallel()
			s := newSpoiler(t, f)
			options := []Options{{EachFrame: true}, {}, {Steady: 3}, {Midstream: true}}
			understood := 0
			for n := range *hammer {
				in := s.stream()
				o := options[n%len(options)]
				at := 0
				if len(in) > 0 {
					at = s.IntN(len(in))
				}
				whole, cut := NewDecoder(f, o), NewDecoder(f, o)
				whole.Push(in)
				whole.Finish()
				cut.Push(in[:at])
				var early []Reading
				for r, ok := cut.Next(); ok; r, ok = cut.Next() {
					r.Raw = bytes.Clone(r.Raw)
					early = append(early, r)
				}
				cut.Push(in[at:])
				cut.Finish()
				for {
					w, more := whole.Next()
					var c Reading
					ok := true
					if len(early) > 0 {
						c, early = early[0], early[1:]
					} else {
						c, ok = cut.Next()
					}
					if more != ok || more && (!bytes.Equal(w.Raw, c.Raw) || w.Status != c.Status || w.Value != c.Value || w.Unit != c.Unit || w.Stable != c.Stable) {
						t.Fatalf("%q cut at %d: %+v became %+v", in, at, w, c)
					}
					if !more {
						break
					}
					checkReading(t, f, &w)
					if w.Err == nil {
						understood++
					}
					if w.Status == OK {
						if err := checkByte(f, w.Raw); err != nil {
							t.Fatalf("%q of %q: %v", w.Raw, in, err)
						}
					}
				}
			}
			require.Positive(t, understood, "nothing was read at all")
		})
	}
}

// checkByte does the sums of formats with a check once more, straight from their
// layouts.
func checkByte(f *Format, frame []byte) error {
	var sum, xor byte
	differ := func(want, have byte) error {
		if want != have {
			return fmt.Errorf("check byte %#x, want %#x", have, want)
		}
		return nil
	}
	hex := func(b []byte) byte {
		v, err := strconv.ParseUint(string(b), 16, 8)
		if err != nil {
			return 0
		}
		return byte(v)
	}
	switch f {
	case sohSTXBCC:
		for _, c := range frame[2:12] {
			xor ^= c
		}
		return differ(xor, frame[12])
	case prefixWeightChecksum:
		for _, c := range frame[:11] {
			xor ^= c
		}
		return differ(xor, hex(frame[11:13]))
	case stxSignDigitsXOR:
		for _, c := range frame[1:9] {
			xor ^= c
		}
		return differ(xor, hex(frame[9:11]))
	case stxStatusWordSum8:
		for _, c := range frame[:17] {
			sum += c
		}
		return differ(sum, frame[17])
	case stxStatusWord:
		if len(frame) == 18 { // with its two's complement of seven bits
			for _, c := range frame[:17] {
				sum += c
			}
			return differ(-sum&0x7f, frame[17]&0x7f)
		}
	}
	return nil
}

// TestHammerDetect gives the detector spoilt streams of every format in turn.
func TestHammerDetect(t *testing.T) {
	var all []*spoiler
	for _, f := range formats {
		all = append(all, newSpoiler(t, f))
	}
	decided := 0
	for n := range *hammer {
		s := all[n%len(all)]
		in := s.stream()
		d := Detect(in)
		if d.Why == "" {
			t.Fatalf("no word about %q", in)
		}
		if d.Format == nil {
			continue
		}
		decided++
		if len(d.Candidates) != 1 || d.Candidates[0].Format != d.Format {
			t.Fatalf("%q: decided on %s among %s", in, d.Format.Name, names(d.Candidates))
		}
	}
	require.Positive(t, decided)
}
