package protocol

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// said gives each reading in a word or two.
func said(rs []Reading) []string {
	var out []string
	for _, r := range rs {
		s := r.Status.String()
		if r.Status == OK {
			s = strings.TrimSpace(r.Value.String() + " " + string(r.Unit))
		}
		out = append(out, s)
	}
	return out
}

func TestDecoderEnds(t *testing.T) {
	for in, want := range map[string][]string{
		"ST,+00001.00  g\r\nST,+00002.00  g\r\n":  {"1.00 g", "2.00 g"},
		"ST,+00001.00  g\n\rST,+00002.00  g\n\r":  {"1.00 g", "2.00 g"},
		"\nST,+00001.00  g\rST,+00002.00  g\r":    {"1.00 g", "2.00 g"},
		"\r\r\n\nST,+00001.00  g\n\n\n":           {"1.00 g"},
		"\x00\x00ST,+00001.00  g\r\n\x00\x00\r\n": {"1.00 g"},
		"ST,+00001.00  g\x00\r\n":                 {"invalid"}, // a NUL is what a port makes of a spoilt character
		"ST,+00001.00  g":                         {"1.00 g"},
		"ST,+00001.00":                            {"invalid"},
		"":                                        nil,
		"\r\n\x00\r\n":                            nil,
	} {
		assert.Equal(t, want, said(decodeCut(headerComma, Options{}, []byte(in))), "%q", in)
	}
}

func TestDecoderTellsForeignFromDamaged(t *testing.T) {
	rs := decodeCut(headerComma, Options{}, []byte("hello\r\nST,+0001.00  g\r\n\x06ST,+00001.00  g\r\n"))
	require.Len(t, rs, 4)
	assert.ErrorIs(t, rs[0].Err, ErrForeign)
	assert.NotErrorIs(t, rs[0].Err, ErrDamaged)
	assert.ErrorIs(t, rs[1].Err, ErrDamaged)
	assert.NoError(t, rs[2].Err, "an acknowledgement is the format's own")
	assert.Equal(t, Invalid, rs[2].Status)
	assert.NoError(t, rs[3].Err)
	for _, r := range rs {
		assert.Equal(t, "header-comma", r.Format)
	}
}

// The first line after opening is never believed: "20.7g" cut from "120.7g"
// looks like a weight.
func TestDecoderMidstream(t *testing.T) {
	o := Options{Midstream: true}
	for in, want := range map[string][]string{
		"ST,+00001.00  g\r\nST,+00002.00  g\r\n": {"2.00 g"},
		"\r\nST,+00002.00  g\r\n":                {"2.00 g"}, // it opened at the end of a line
		"\nST,+00002.00  g\r\n":                  {"2.00 g"},
		"  g\r\nST,+00002.00  g\r\n":             {"2.00 g"},
		"ST,+00001.00  g":                        nil,
		"":                                       nil,
	} {
		assert.Equal(t, want, said(decodeCut(headerComma, o, []byte(in))), "%q", in)
		for i := range in {
			assert.Equal(t, want, said(decodeCut(headerComma, o, []byte(in[:i]), []byte(in[i:]))), "%q cut at %d", in, i)
		}
	}
}

func TestDecoderFlood(t *testing.T) {
	flood := bytes.Repeat([]byte("ST,+00001.00  g"), 1000)
	in := append(append([]byte("ST,+00001.00  g\r\n"), flood...), "\r\nST,+00002.00  g\r\n"...)
	whole := decodeCut(headerComma, Options{}, in)
	require.Equal(t, []string{"1.00 g", "invalid", "2.00 g"}, said(whole), "the whole flood is one frame, its end too")
	assert.ErrorIs(t, whole[1].Err, ErrDamaged)
	assert.Len(t, whole[1].Raw, maxFrame)

	got, err := decodeReader(headerComma, Options{}, iotest.OneByteReader(bytes.NewReader(in)))
	require.NoError(t, err)
	assert.Equal(t, whole, got)

	d := NewDecoder(headerComma, Options{})
	for range 1000 {
		d.Push(flood[:1000])
		for _, ok := d.Next(); ok; _, ok = d.Next() {
		}
	}
	assert.LessOrEqual(t, cap(d.buf), 4*maxFrame, "a megabyte without an end is not kept")
}

func TestDecoderBlankUnit(t *testing.T) {
	o := Options{BlankUnit: UnitGram}
	rs := decodeCut(fixedSignUnit, o, []byte("-    12.30    \r\n-    12.30 kg \r\n      High    \r\n"))
	assert.Equal(t, []string{"-12.30 g", "-12.30 kg", "overload"}, said(rs))
	assert.Equal(t, UnitNone, rs[2].Unit)

	fixed := *fixedSignUnit
	fixed.BlankUnit = UnitKilogram
	rs = decodeCut(&fixed, o, []byte("-    12.30    \r\n"))
	assert.Equal(t, []string{"-12.30 kg"}, said(rs), "what the format fixes goes before what the user says")
}

func TestDecoderSteady(t *testing.T) {
	line, short := "ST,+00123.456  g\r\n", "ST,+0012.456  g\r\n"
	// Two lines in a row lost a digit, and would be a weight ten times less.
	in := []byte(line + short + short + "OL,+9999999E+19\r\n" + line)
	rs := decodeCut(headerComma, Options{Steady: 3}, in)
	assert.Equal(t, []string{"123.456 g", "invalid", "invalid", "overload", "123.456 g"}, said(rs))
	assert.ErrorIs(t, rs[1].Err, ErrDamaged)
	assert.Equal(t, []string{"123.456 g", "12.456 g", "12.456 g", "overload", "123.456 g"}, said(decodeCut(headerComma, Options{}, in)))
	// Another range comes three times.
	in = []byte(line + strings.Repeat(short, 3) + line)
	assert.Equal(t, []string{"123.456 g", "invalid", "invalid", "12.456 g", "invalid"}, said(decodeCut(headerComma, Options{Steady: 3}, in)))
	// A stretch of the old length ends the count.
	in = []byte(line + short + line + short + line + short)
	assert.Equal(t, []string{"123.456 g", "invalid", "123.456 g", "invalid", "123.456 g", "invalid"}, said(decodeCut(headerComma, Options{Steady: 2}, in)))
	// Where the tail of a line comes and goes it is not looked at.
	in = []byte("       0.01 g ?\r\n       0.01 g\r\n      0.01 g\r\n")
	assert.Equal(t, []string{"0.01 g", "0.01 g", "invalid"}, said(decodeCut(weightUnitQuestion, Options{Steady: 2}, in)))
	// Formats whose frames differ in length are left alone.
	in = []byte("\n02.340LB\r\nS00\r\x03\n-02.340LB\r\nS00\r\x03")
	assert.Equal(t, []string{"2.340 lb", "-2.340 lb"}, said(decodeCut(lfWeightStatusETX, Options{Steady: 3}, in)))
}

// A silence ends a frame, and not what the stream has shown of itself.
func TestDecoderBreak(t *testing.T) {
	d := NewDecoder(headerComma, Options{Steady: 2, BlankUnit: UnitGram})
	next := func(in string) string {
		d.Push([]byte(in))
		r, ok := d.Next()
		if !ok {
			return "nothing"
		}
		return said([]Reading{r})[0]
	}
	assert.Equal(t, "123.456 kg", next("ST,+00123.456 kg\r\n"))
	assert.Equal(t, "nothing", next("ST,+0001"))
	d.Break()
	assert.Equal(t, "20.700 kg", next("ST,+00020.700 kg\r\n"))
	d.Break()
	assert.Equal(t, "invalid", next("ST,+0020.700 kg\r\n"), "the length is remembered")
	// So is the unit, which a blank does not replace.
	d = NewDecoder(floatSignUnit, Options{BlankUnit: UnitGram})
	assert.Equal(t, "0.000 kg", next("       0.000 kg \r\n"))
	d.Break()
	assert.Equal(t, "29.180", strings.TrimSpace(next("      29.180    \r\n")))
}

func TestDecoderPairs(t *testing.T) {
	f := &Format{Name: "pairs", Split: splitLine, Parse: parseSignPadUnit, Pairs: true}
	in := []byte("    1.000 g \r\n    1.000 g \r\n    2.000 g \r\n    1.000 g \r\nhello\r\n    1.000 g \r\n    1.000 g \r\n    1.000 g \r\n")
	assert.Equal(t, []string{"invalid", "1.000 g", "invalid", "invalid", "invalid", "invalid", "1.000 g", "1.000 g"}, said(decodeCut(f, Options{}, in)))
	rs := decodeCut(f, Options{}, in)
	assert.NoError(t, rs[0].Err, "a frame that waits for its like is not damaged")
	assert.NotEmpty(t, rs[0].Why)
	assert.Equal(t, Unsaid, rs[0].Stable)
	assert.Equal(t, []string{"1.000 g", "1.000 g", "2.000 g", "1.000 g", "invalid", "1.000 g", "1.000 g", "1.000 g"},
		said(decodeCut(f, Options{EachFrame: true}, in)))
}

func TestDecoderParity(t *testing.T) {
	for _, p := range []byte{'E', 'O'} {
		in := withParity("ST,+00001.00  g\r\nST,+00002.00  g\r\n", p)
		o := Options{Parity: p}
		require.Equal(t, []string{"1.00 g", "2.00 g"}, said(decodeCut(headerComma, o, in)))
		// Any single flipped bit shows: the frame that holds it is no weight.
		for i := range in {
			for bit := range 8 {
				bad := bytes.Clone(in)
				bad[i] ^= 1 << bit
				n := 0
				for _, r := range decodeCut(headerComma, o, bad) {
					if r.Status == OK {
						n++
						require.Contains(t, []string{"1.00", "2.00"}, r.Value.String())
					}
				}
				// A flipped terminator may leave both lines whole, for CR and LF
				// each end a line.
				if c := in[i] & 0x7f; c != '\r' && c != '\n' {
					require.Equal(t, 1, n, "byte %d bit %d", i, bit)
				}
			}
		}
		other := byte('E' + 'O' - p)
		require.NotContains(t, strings.Join(said(decodeCut(headerComma, Options{Parity: other}, in)), ","), "g")
		require.NotContains(t, strings.Join(said(decodeCut(headerComma, Options{}, in)), ","), "g", "nothing is masked unasked")
	}
}

func TestReaderDecoder(t *testing.T) {
	in := "ST,+00001.00  g\r\nST,+00002.00  g"
	rs, err := decodeReader(headerComma, Options{}, strings.NewReader(in))
	require.NoError(t, err)
	assert.Equal(t, []string{"1.00 g", "2.00 g"}, said(rs))

	// At any other end nobody knows whether the rest is whole.
	broken := errors.New("cable")
	rs, err = decodeReader(headerComma, Options{}, io.MultiReader(strings.NewReader(in), iotest.ErrReader(broken)))
	assert.ErrorIs(t, err, broken)
	assert.Equal(t, []string{"1.00 g"}, said(rs))

	_, err = newReaderDecoder(silent{}, headerComma, Options{}).Read()
	assert.ErrorIs(t, err, io.ErrNoProgress)

	d := newReaderDecoder(strings.NewReader(""), headerComma, Options{})
	for range 2 {
		_, err = d.Read()
		assert.ErrorIs(t, err, io.EOF, "the end stays the end")
	}
}

type silent struct{}

func (silent) Read([]byte) (int, error) { return 0, nil }

// However a stream of good lines, noise and terminators is cut into pieces, the
// readings are the same.
func TestDecoderCuts(t *testing.T) {
	parts := []string{"ST,+00001.00  g", "US,-00002.00  g", "\r\n", "\r", "\n", "\x06", "\x00", "hello", "ST,+0000", "OL,+9999999E+19", "\xff"}
	rapid.Check(t, func(t *rapid.T) {
		in := []byte(strings.Join(rapid.SliceOfN(rapid.SampledFrom(parts), 0, 30).Draw(t, "parts"), ""))
		o := Options{Midstream: rapid.Bool().Draw(t, "midstream")}
		var pieces [][]byte
		for rest := in; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "piece")
			pieces = append(pieces, rest[:n])
			rest = rest[n:]
		}
		require.Equal(t, decodeCut(headerComma, o, in), decodeCut(headerComma, o, pieces...))
	})
}

func TestAppendJSON(t *testing.T) {
	for want, r := range map[string]Reading{
		`{"format":"header-comma","value":"-0.50","unit":"g","stable":true,"mode":"net","status":"ok","raw":"5354"}`: {
			Format: "header-comma", Status: OK, Value: Decimal{Coef: 50, Places: 2, Neg: true}, Unit: UnitGram, Stable: Yes, Mode: Net, Raw: []byte("ST")},
		`{"format":"x","value":"0","unit":"","stable":false,"mode":"-","status":"ok","raw":""}`:               {Format: "x", Status: OK, Stable: No},
		`{"format":"x","value":null,"unit":"","stable":null,"mode":"gross","status":"overload","raw":"00ff"}`: {Format: "x", Status: Overload, Mode: Gross, Raw: []byte{0, 0xff}},
		`{"format":"my \"own\"","value":null,"unit":"","stable":null,"mode":"tare","status":"invalid","raw":""}`: {
			Format: `my "own"`, Mode: Tare},
		`{"format":"","value":null,"unit":"","stable":null,"mode":"-","status":"error","raw":""}`: {Status: Error},
	} {
		got := AppendJSON([]byte("before "), r)
		assert.Equal(t, "before "+want, string(got))
		assert.True(t, json.Valid(got[len("before "):]))
	}
	r := decodeCut(headerComma, Options{}, []byte("ST,+00123.45  g\r\n"))[0]
	buf := make([]byte, 0, 256)
	assert.Zero(t, testing.AllocsPerRun(10, func() { buf = AppendJSON(buf[:0], r) }))
}

// Zero digits keep their sign and their places, all the way.
func TestDigitsAreKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		places := rapid.IntRange(1, 6).Draw(t, "places")
		n := rapid.IntRange(0, 9_999_999).Draw(t, "n")
		neg := rapid.Bool().Draw(t, "neg")
		d := Decimal{Coef: uint64(n), Places: uint8(places), Neg: neg}
		digits := Decimal{Coef: uint64(n), Places: uint8(places)}.String()
		if len(digits) > 8 || nineFilled(uint64(n)) {
			t.Skip()
		}
		sign := "+"
		if neg {
			sign = "-"
		}
		zeros := strings.Repeat("0", 8-len(digits)) + digits
		blanks := strings.Repeat(" ", 8-len(digits)) + digits
		for f, line := range map[*Format]string{
			headerComma:           "ST," + sign + zeros + "  g\r\n",
			headerCommaCSV:        "ST," + sign + zeros + ",  g\r\n",
			headerCommaMode:       "ST,GS," + sign + blanks + " g\r\n",
			bareNumber:            sign + zeros + "\r\n",
			fixedSignUnit:         sign + " " + blanks + " g  \r\n",
			fixedSignUnitID:       "N     " + sign + " " + blanks + " g  \r\n",
			signPadUnit:           sign + blanks + " g \r\n",
			stabilitySignMassUnit: "  " + strings.Replace(sign, "+", " ", 1) + " " + blanks + " g  \r\n",
		} {
			rs := decodeCut(f, Options{}, []byte(line))
			require.Len(t, rs, 1)
			require.Equal(t, OK, rs[0].Status, "%s: %q: %s", f.Name, line, rs[0].Why)
			require.Equal(t, d, rs[0].Value, "%s: %q", f.Name, line)
			require.Equal(t, d.String(), rs[0].Value.String())
		}
	})
}
