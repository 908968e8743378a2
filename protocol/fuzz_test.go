package protocol

import (
	"bytes"
	"testing"
)

// FuzzFormat throws bytes at every format: the first byte of the input picks it,
// the second picks where the rest is cut. Nothing panics; where the stream is
// cut changes nothing; every digit of a weight stands in the frame, in order;
// and a frame that is not OK carries no number.
func FuzzFormat(f *testing.F) {
	for i, format := range formats {
		for _, c := range captures(f) {
			if c.format == format {
				f.Add(append([]byte{byte(i), 7}, c.bytes...))
			}
		}
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		if len(in) < 2 {
			return
		}
		format := formats[int(in[0])%len(formats)]
		at, in := int(in[1]), in[2:]
		for _, o := range []Options{{EachFrame: true}, {Midstream: true}, {Parity: 'E', EachFrame: true}} {
			whole := decodeCut(format, o, in)
			cut := decodeCut(format, o, in[:min(at, len(in))], in[min(at, len(in)):])
			if len(cut) != len(whole) {
				t.Fatalf("%s: %q: %d readings whole, %d cut at %d", format.Name, in, len(whole), len(cut), at)
			}
			for i := range whole {
				w, c := whole[i], cut[i]
				if !bytes.Equal(w.Raw, c.Raw) || w.Status != c.Status || w.Value != c.Value || w.Unit != c.Unit || w.Stable != c.Stable || w.Mode != c.Mode {
					t.Fatalf("%s: %q: cut at %d: %+v became %+v", format.Name, in, at, w, c)
				}
				checkReading(t, format, &w)
			}
		}
	})
}

// textual tells the formats whose digits stand in the frame as characters, in
// reading order, from those that code them otherwise.
func textual(f *Format) bool {
	switch f {
	case equalsReversed, bcdFFFrame, hidPOSScale, lfWeightStatusETX, letterStatus:
		return false // reversed; binary; pounds and ounces are added up
	}
	return true
}

func checkReading(t *testing.T, f *Format, r *Reading) {
	t.Helper()
	if r.Status != OK {
		if r.Value != (Decimal{}) || r.Unit != UnitNone || r.Stable != Unsaid || r.Step != (Decimal{}) {
			t.Fatalf("%s: %q is %s and still carries %+v", f.Name, r.Raw, r.Status, r)
		}
		if r.Status == Invalid && r.Why == "" {
			t.Fatalf("%s: %q is refused without a reason", f.Name, r.Raw)
		}
		return
	}
	if r.Err != nil {
		t.Fatalf("%s: %q is ok and has an error: %v", f.Name, r.Raw, r.Err)
	}
	if !textual(f) {
		return
	}
	rest := r.Raw
	for _, c := range []byte(r.Value.String()) {
		if !isDigit(c) || c == '0' {
			continue // a zero may be added in front, and points and signs move
		}
		i := bytes.IndexByte(rest, c)
		if i < 0 {
			t.Fatalf("%s: %q was read as %s", f.Name, r.Raw, r.Value)
		}
		rest = rest[i+1:]
	}
}
