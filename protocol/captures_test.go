package protocol

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The captures are the price of a format: testdata/captures/FORMAT/CASE.cap
// holds raw bytes, CASE.golden the readings as AppendJSON writes them, one a
// line, and CASE.txt says what they are:
//
//	Device: what sent them, or which layout they were built from
//	Settings: baud rate and so on, as far as known
//	Source: where they were published
//	Options: (if any) parity=E, midstream, blank=g
//
// A new case is three files (two, and the golden from -update); the tests find
// it by themselves.

var update = flag.Bool("update", false, "write the golden files anew")

const captureDir = "../testdata/captures"

type capture struct {
	format *Format
	name   string // FORMAT/CASE
	bytes  []byte
	opts   Options
}

func captures(t testing.TB) []capture {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(captureDir, "*", "*.cap"))
	require.NoError(t, err)
	var cs []capture
	for _, p := range paths {
		dir, file := filepath.Split(p)
		name := filepath.Base(dir)
		f, ok := Lookup(name)
		require.True(t, ok, "%s: no format is named %s", p, name)
		b, err := os.ReadFile(p)
		require.NoError(t, err)
		notes, err := os.ReadFile(strings.TrimSuffix(p, ".cap") + ".txt")
		require.NoError(t, err, "every capture has notes beside it")
		cs = append(cs, capture{f, name + "/" + strings.TrimSuffix(file, ".cap"), b, captureOptions(t, p, string(notes))})
	}
	return cs
}

func captureOptions(t testing.TB, path, notes string) Options {
	t.Helper()
	o := Options{EachFrame: true}
	seen := map[string]bool{}
	for line := range strings.Lines(notes) {
		key, rest, ok := strings.Cut(line, ":")
		if !ok {
			continue
		}
		seen[key] = strings.TrimSpace(rest) != ""
		if key != "Options" {
			continue
		}
		for _, w := range strings.Fields(strings.ReplaceAll(rest, ",", " ")) {
			k, v, _ := strings.Cut(w, "=")
			switch k {
			case "parity":
				o.Parity = v[0]
			case "midstream":
				o.Midstream = true
			case "blank":
				o.BlankUnit = Unit(v)
			case "pairs":
				o.EachFrame = false
			default:
				require.Fail(t, "unknown option", "%s: %s", path, w)
			}
		}
	}
	for _, key := range []string{"Device", "Settings", "Source"} {
		require.True(t, seen[key], "%s: the notes name no %s", path, key)
	}
	return o
}

// decodeCut decodes pieces of a stream and gives all readings, whose Raw is
// their own.
func decodeCut(f *Format, o Options, pieces ...[]byte) []Reading {
	d := NewDecoder(f, o)
	var rs []Reading
	drain := func() {
		for r, ok := d.Next(); ok; r, ok = d.Next() {
			r.Raw = bytes.Clone(r.Raw)
			rs = append(rs, r)
		}
	}
	for _, p := range pieces {
		d.Push(p)
		drain()
	}
	d.Finish()
	drain()
	return rs
}

func decodeReader(f *Format, o Options, r io.Reader) ([]Reading, error) {
	d := newReaderDecoder(r, f, o)
	var rs []Reading
	for {
		r, err := d.Read()
		if err == io.EOF {
			return rs, nil
		}
		if err != nil {
			return rs, err
		}
		r.Raw = bytes.Clone(r.Raw)
		rs = append(rs, r)
	}
}

func jsonLines(rs []Reading) string {
	var b []byte
	for _, r := range rs {
		b = append(AppendJSON(b, r), '\n')
	}
	return string(b)
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
		return
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err, "no golden file; run go test ./protocol -update and read what it wrote")
	require.Equal(t, string(want), got)
}

func TestCaptures(t *testing.T) {
	for _, c := range captures(t) {
		t.Run(c.name, func(t *testing.T) {
			whole := decodeCut(c.format, c.opts, c.bytes)
			require.NotEmpty(t, whole)
			golden(t, filepath.Join(captureDir, c.name+".golden"), jsonLines(whole))
			// However the bytes arrive, the readings are the same.
			for i := range c.bytes {
				require.Equal(t, whole, decodeCut(c.format, c.opts, c.bytes[:i], c.bytes[i:]), "cut at byte %d", i)
			}
			for name, r := range map[string]io.Reader{
				"one byte at a time": iotest.OneByteReader(bytes.NewReader(c.bytes)),
				"in halves":          iotest.HalfReader(bytes.NewReader(c.bytes)),
				"data with the end":  iotest.DataErrReader(bytes.NewReader(c.bytes)),
			} {
				got, err := decodeReader(c.format, c.opts, r)
				require.NoError(t, err)
				require.Equal(t, whole, got, name)
			}
		})
	}
}

// Every format that is listed has at least one capture, so that none of the
// tests over captures passes it by.
func TestEveryFormatHasACapture(t *testing.T) {
	have := map[string]bool{}
	for _, c := range captures(t) {
		have[c.format.Name] = true
	}
	for _, f := range All() {
		assert.True(t, have[f.Name], "%s has no capture in testdata/captures/%s", f.Name, f.Name)
	}
}

// The table of who reads what keeps look-alikes in sight: when a change makes a
// format read another's lines, this golden file changes, and somebody has to
// say why.
func TestWhoReadsWhat(t *testing.T) {
	var b strings.Builder
	fmt.Fprintln(&b, "# weights read / frames, for every format that reads at least one weight in the capture")
	for _, c := range captures(t) {
		var who []string
		for _, f := range All() {
			o := c.opts
			if f.Name != c.format.Name {
				o.BlankUnit = UnitNone
			}
			rs := decodeCut(f, o, c.bytes)
			n := 0
			for _, r := range rs {
				if r.Status == OK {
					n++
				}
			}
			if n > 0 {
				who = append(who, fmt.Sprintf("%s %d/%d", f.Name, n, len(rs)))
			}
		}
		fmt.Fprintf(&b, "%s: %s\n", c.name, strings.Join(who, ", "))
	}
	golden(t, filepath.Join(captureDir, "who-reads-what.golden"), b.String())
}

func TestFormatsAreComplete(t *testing.T) {
	seen := map[string]bool{}
	for _, f := range All() {
		assert.NotEmpty(t, f.Name)
		assert.False(t, seen[f.Name], "%s is listed twice", f.Name)
		seen[f.Name] = true
		assert.NotEmpty(t, f.Summary, f.Name)
		assert.NotEmpty(t, f.Example, f.Name)
		got, ok := Lookup(f.Name)
		assert.True(t, ok)
		assert.Same(t, f, got)
		for _, l := range f.Lines {
			assert.NotEmpty(t, l.Source, "%s: a setting without its source", f.Name)
			assert.Contains(t, []int{7, 8}, l.Bits, f.Name)
			assert.Contains(t, []int{1, 2}, l.Stop, f.Name)
			assert.Contains(t, "NEO", string(l.Parity), f.Name)
			assert.Positive(t, l.Baud, f.Name)
		}
		// The example is a frame of the format, and a weight. Tickets with titles
		// are never read as one.
		rs := decodeCut(f, Options{EachFrame: true}, unquote(t, f.Example))
		if assert.Len(t, rs, 1, "%s: its example", f.Name) {
			assert.NoError(t, rs[0].Err, "%s: its example", f.Name)
			assert.Equal(t, f != titledBlock, rs[0].Status == OK, "%s: its example: %s", f.Name, rs[0].Why)
		}
	}
	_, ok := Lookup("no such format")
	assert.False(t, ok)
	all := All()
	all[0] = nil
	assert.False(t, slices.Contains(All(), nil), "All gives a slice of the caller's own")
}

// row is one frame and what it says, with its source.
type row struct {
	in                                string
	value, unit, stable, mode, status string // stable: "true", "false" or ""
	source                            string
}

// runRows decodes every row alone and compares all that its reading says.
func runRows(t *testing.T, f *Format, rows []row) {
	t.Helper()
	for _, w := range rows {
		rs := decodeCut(f, Options{EachFrame: true}, []byte(w.in))
		if !assert.Len(t, rs, 1, "%q", w.in) {
			continue
		}
		r := rs[0]
		got := row{w.in, "", string(r.Unit), map[Claim]string{Yes: "true", No: "false", Unsaid: ""}[r.Stable], r.Mode.String(), r.Status.String(), w.source}
		if r.Status == OK {
			got.value = r.Value.String()
		}
		assert.Equal(t, w, got, "%q: %s", w.in, r.Why)
		if r.Status == Invalid {
			assert.NotEmpty(t, r.Why, "%q", w.in)
		}
	}
}

// runRefused feeds frames that must never become a weight. Each of them is
// refused with ErrForeign or ErrDamaged, and says why.
func runRefused(t *testing.T, f *Format, frames map[string]error) {
	t.Helper()
	for in, want := range frames {
		require.True(t, want == ErrForeign || want == ErrDamaged)
		rs := decodeCut(f, Options{EachFrame: true}, []byte(in))
		if !assert.NotEmpty(t, rs, "%q", in) {
			continue
		}
		for _, r := range rs {
			assert.Equal(t, Invalid, r.Status, "%q: %s %s", in, r.Value, r.Unit)
			assert.ErrorIs(t, r.Err, want, "%q", in)
			assert.NotEmpty(t, r.Why, "%q", in)
		}
	}
}

// runCuts checks that a frame that lost bytes at its end, at its front or in
// its middle is no weight, or the same weight. Frames that may lose bytes
// without a trace are not for this check.
func runCuts(t *testing.T, f *Format, line, end string) {
	t.Helper()
	whole := decodeCut(f, Options{EachFrame: true}, []byte(line+end))
	require.Len(t, whole, 1)
	require.Equal(t, OK, whole[0].Status, "%q: %s", line, whole[0].Why)
	check := func(what, cut string) {
		for _, r := range decodeCut(f, Options{EachFrame: true}, []byte(cut)) {
			if r.Status == OK {
				same := r.Value == whole[0].Value && r.Unit == whole[0].Unit
				assert.True(t, same, "%q %s to %q reads as %s %s", line, what, cut, r.Value, r.Unit)
			}
		}
	}
	for i := range line {
		check("cut at the end", line[:i])
		check("cut at the end", line[:i]+end)
		check("cut at the front", line[i:]+end)
	}
}

// unquote undoes the escapes of an Example.
func unquote(t testing.TB, s string) []byte {
	t.Helper()
	u, err := strconv.Unquote(`"` + strings.ReplaceAll(s, `"`, `\"`) + `"`)
	require.NoError(t, err, "%s", s)
	return []byte(u)
}

func assertEqual(t *testing.T, want, got any) {
	t.Helper()
	assert.Equal(t, want, got)
}
