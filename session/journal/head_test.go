package journal

import (
	"bytes"
	"encoding/json"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The scanner is held against encoding/json, which is slower and does more.
func FuzzHead(f *testing.F) {
	files, err := filepath.Glob("../../testdata/journals/*.jsonl")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		for line := range bytes.Lines(b) {
			f.Add(line)
		}
	}
	f.Add([]byte(`{"seq":1,"at":"2026-11-25T12:00:00Z","kind":"a\u0062","prev":"","x":[1.5e-3,-0,true,false,null,{"y":"\"\\\/\b\f\n\r\t"}]}`))
	f.Add([]byte(`{"seq":01}`))
	f.Add([]byte(`{"a":"` + "\x1f" + `"}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		h, err := parseHead(b)
		if err != nil {
			return
		}
		var top map[string]json.RawMessage
		if err := json.Unmarshal(b, &top); err != nil {
			t.Fatalf("%q: we take it, encoding/json does not: %v", b, err)
		}
		text := func(name string) (s string) {
			if v, ok := top[name]; ok {
				if err := json.Unmarshal(v, &s); err != nil {
					t.Fatalf("%q: %s: %v", b, name, err)
				}
			}
			return s
		}
		var seq uint64
		if err := json.Unmarshal(top["seq"], &seq); err != nil || seq != h.seq {
			t.Fatalf("%q: seq %d, want %d (%v)", b, h.seq, seq, err)
		}
		for name, got := range map[string][]byte{"kind": h.kind, "batch": h.batch, "by": h.by, "prev": h.prev} {
			if text(name) != string(got) {
				t.Fatalf("%q: %s is %q, want %q", b, name, got, text(name))
			}
		}
	})
}

// What encoding/json refuses, the scanner refuses: each row once as the value of
// a field of a line that is good otherwise (grammar of RFC 8259).
func TestSyntax(t *testing.T) {
	line := func(v string) []byte {
		return []byte(`{"seq":1,"at":"2026-11-25T12:00:00Z","kind":"k","prev":"p","x":` + v + `}`)
	}
	for _, v := range []string{
		`0`, `-0`, `10`, `-1`, `0.5`, `1e5`, `1E+5`, `1e-5`, `1.25e5`, `""`, `"é"`, `"\u00e9"`, `"\ud800"`, `"\n"`, `true`, `false`, `null`,
		`[]`, `{}`, `[ ]`, `{ }`, `[1,2]`, `[ 1 , 2 ]`, `{"a":{"b":[[]]}}`, `{"a":1,"b":2}`, `"\/"`,
		``, `01`, `-`, `.5`, `5.`, `1e`, `1e+`, `+1`, `0x1`, `NaN`, `tru`, `True`, `nul`, `"`, `"\x"`, `"\u12"`, `"\u12g4"`, "\"\t\"", `'a'`,
		`[`, `[1`, `[1,`, `[1,]`, `[,]`, `]`, `{`, `{"a"`, `{"a":`, `{"a":1`, `{"a":1,`, `{"a":1,}`, `{a:1}`, `{"a" 1}`, `1 2`, `[1 2]`, `{"a":1 "b":2}`, "\x01",
	} {
		b := line(v)
		_, err := parseHead(b)
		assert.Equal(t, json.Valid(b), err == nil, "%s: %v", v, err)
	}
	deep := func(n int) string {
		return string(bytes.Repeat([]byte("["), n)) + string(bytes.Repeat([]byte("]"), n))
	}
	_, err := parseHead(line(deep(maxDepth)))
	assert.NoError(t, err)
	_, err = parseHead(line(deep(1_000_000)))
	assert.Error(t, err, "depth is limited, the stack is not spent")
}

func TestNumbersWithAPointAreSeen(t *testing.T) {
	for v, want := range map[string]bool{
		`1`: false, `-7`: false, `"1.5"`: false, `1.5`: true, `1e3`: true, `[0,{"a":[2E1]}]`: true, `{"g":"84.6"}`: false,
	} {
		h, err := parseHead([]byte(`{"seq":1,"at":"2026-11-25T12:00:00Z","kind":"k","prev":"p","x":` + v + `}`))
		require.NoError(t, err)
		assert.Equal(t, want, h.fraction, v)
	}
}

// The chunks in which bytes come change nothing.
func TestLinesInAnyChunks(t *testing.T) {
	_, dir := begin(t, 5, Options{})
	b := append(content(t, dir), "{torn"...)
	want, err := Scan(bytes.NewReader(b), nil)
	require.NoError(t, err)
	require.NotNil(t, want.Torn)
	for name, r := range map[string]io.Reader{
		"one byte": iotest.OneByteReader(bytes.NewReader(b)), "half": iotest.HalfReader(bytes.NewReader(b)),
		"with the end": iotest.DataErrReader(bytes.NewReader(b)),
	} {
		got, err := Scan(r, nil)
		require.NoError(t, err, name)
		assert.Equal(t, want, got, name)
	}
	_, err = Scan(iotest.TimeoutReader(iotest.OneByteReader(bytes.NewReader(b))), nil)
	assert.ErrorIs(t, err, iotest.ErrTimeout, "a disk that cannot be read is no damage")
	assert.NotErrorIs(t, err, ErrDamaged)
	_, err = Scan(iotest.ErrReader(nil), nil)
	assert.Error(t, err)
}

// A file without newlines is refused before it fills the memory.
func TestEndlessLine(t *testing.T) {
	_, err := Scan(endless{}, nil)
	assert.ErrorIs(t, err, ErrDamaged)
	assert.ErrorContains(t, err, "longer than")
}

type endless struct{}

func (endless) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = ' '
	}
	return len(b), nil
}

// The quick way for lines of our own says what the plain one says, or nothing.
func TestOwnLinesAreReadAlike(t *testing.T) {
	line := `{"seq":41,"at":"2026-11-25T10:00:00.5+01:00","kind":"portion","batch":"T1","by":"Mara","prev":"` + strings.Repeat("ab", 32) + `","material":"Quartz","raw":["a","b"],"u":{"g":"0.1"},"x":null}`
	_, ok := compact(true).own([]byte(line))
	require.True(t, ok)
	rng := rand.New(rand.NewPCG(1, 41))
	took := 0
	for range 300_000 {
		b := []byte(line)
		for range rng.IntN(3) {
			at := rng.IntN(len(b))
			switch rng.IntN(4) {
			case 0:
				b[at] = `"{}[],:0123456789.eE-truefalsn \`[rng.IntN(31)]
			case 1:
				b = slices.Delete(b, at, min(len(b), at+1+rng.IntN(8)))
			case 2:
				b = slices.Insert(b, at, b[rng.IntN(len(b))])
			case 3:
				names := []string{`,"seq":1`, `,"prev":""`, `,"a":[]`, `,"a":{}`, `,"by":"x"`, `}`, `0`}
				b = slices.Insert(b, at, []byte(names[rng.IntN(len(names))])...)
			}
			if len(b) == 0 {
				break
			}
		}
		quick, ok := compact(literal(b)).own(b)
		if !ok || !utf8.Valid(b) {
			continue
		}
		took++
		// A blank in front sends the same object the plain way.
		plain, err := parseHead(append([]byte{' '}, b...))
		require.NoError(t, err, "%s", b)
		require.Equal(t, plain, quick, "%s", b)
	}
	require.Greater(t, took, 10_000)
}
