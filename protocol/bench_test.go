//go:build unix

package protocol

import (
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// weightFrames gives the frames of a format's captures that are weights.
func weightFrames(tb testing.TB, f *Format) (frames [][]byte) {
	tb.Helper()
	for _, c := range captures(tb) {
		if c.format != f || c.opts.Parity != 0 {
			continue
		}
		for _, r := range decodeCut(f, Options{EachFrame: true}, c.bytes) {
			if r.Status == OK {
				frames = append(frames, r.Raw)
			}
		}
	}
	if len(frames) == 0 {
		frames = append(frames, frameOf(tb, f))
	}
	return frames
}

func frameOf(tb testing.TB, f *Format) []byte {
	tb.Helper()
	rs := decodeCut(f, Options{EachFrame: true}, unquote(tb, f.Example))
	require.Len(tb, rs, 1)
	return rs[0].Raw
}

// perSecond reports lines for each second that a core really worked, for a
// machine that others use at the same time says little by the clock.
func perSecond(b *testing.B, lines int, start time.Duration) {
	b.ReportMetric(float64(lines)/(cpuTime(b)-start).Seconds(), "lines/cpu-s")
}

func cpuTime(tb testing.TB) time.Duration {
	tb.Helper()
	var u syscall.Rusage
	require.NoError(tb, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkParse reads weights only, one format at a time.
func BenchmarkParse(b *testing.B) {
	for _, f := range All() {
		frames := weightFrames(b, f)
		b.Run(f.Name, func(b *testing.B) {
			b.ReportAllocs()
			var r Reading
			n, start := 0, cpuTime(b)
			for b.Loop() {
				for _, frame := range frames {
					r = Reading{}
					if err := f.Parse(frame, &r); err != nil {
						b.Fatal(err)
					}
					n++
				}
			}
			perSecond(b, n, start)
		})
	}
}

// BenchmarkDecode takes the example of each format through the whole decoder, as
// a port would deliver it: 64 frames in pieces of 64 bytes.
func BenchmarkDecode(b *testing.B) {
	for _, f := range All() {
		b.Run(f.Name, func(b *testing.B) {
			var stream []byte
			one := unquote(b, f.Example)
			for range 64 {
				stream = append(stream, one...)
			}
			d := NewDecoder(f, Options{EachFrame: true})
			b.ReportAllocs()
			n, start := 0, cpuTime(b)
			for b.Loop() {
				for p := stream; len(p) > 0; {
					k := min(64, len(p))
					d.Push(p[:k])
					p = p[k:]
					for r, ok := d.Next(); ok; r, ok = d.Next() {
						if r.Err != nil {
							b.Fatalf("%q: %s", r.Raw, r.Why)
						}
						n++
					}
				}
			}
			perSecond(b, n, start)
		})
	}
}

// A weight that is read costs no allocation, in Parse and in the decoder.
func TestWeightsDoNotAllocate(t *testing.T) {
	for _, f := range All() {
		frames := weightFrames(t, f)
		var r Reading
		require.Zero(t, testing.AllocsPerRun(20, func() {
			for _, frame := range frames {
				r = Reading{}
				_ = f.Parse(frame, &r)
			}
		}), "%s: Parse", f.Name)

		one := unquote(t, f.Example)
		d := NewDecoder(f, Options{EachFrame: true})
		decode := func() {
			d.Push(one)
			for r, ok := d.Next(); ok; r, ok = d.Next() {
				_ = r
			}
		}
		decode()
		decode()
		require.Zero(t, testing.AllocsPerRun(20, decode), "%s: Decoder", f.Name)
	}
}
