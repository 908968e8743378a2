package journal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var noon = time.Date(2026, 11, 25, 12, 0, 0, 123456789, time.FixedZone("", 3600))

type pour struct {
	Material string   `json:"material"`
	Raw      []string `json:"raw"`
}

// begin opens a journal in a new directory and writes n lines of various shapes.
func begin(t testing.TB, n int, o Options) (*Journal, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "a", "b")
	j, rep, err := Open(dir, o)
	require.NoError(t, err)
	require.True(t, rep.Created, "an empty trail is never begun silently")
	t.Cleanup(func() { _ = j.Close() })
	add(t, j, n)
	return j, dir
}

func add(t testing.TB, j *Journal, n int) {
	t.Helper()
	for i := range n {
		k := int(j.Len())
		body := any(pour{"Quartz <45 µm> & \"more\"", []string{"ST,GS,  84.6 g", strconv.Itoa(k)}})
		if i%3 == 1 {
			body = nil
		}
		_, err := j.Append(noon.Add(time.Duration(k)*time.Second), "portion", "T1", "Mara", body)
		require.NoError(t, err)
	}
}

func content(t testing.TB, dir string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, Name))
	require.NoError(t, err)
	return b
}

// with puts bytes into a new directory as its journal, in memory where the system
// has a place for that: tests that try every byte are about bytes, not about waiting
// for a disk.
func with(t testing.TB, b []byte) string {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "journal")
	if err != nil {
		dir = t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	require.NoError(t, os.WriteFile(filepath.Join(dir, Name), b, 0o644))
	return dir
}

func TestLine(t *testing.T) {
	_, dir := begin(t, 2, Options{})
	want := `{"seq":1,"at":"2026-11-25T12:00:00.123456789+01:00","kind":"portion","batch":"T1","by":"Mara","prev":"` +
		strings.Repeat("0", 64) + `","material":"Quartz <45 µm> & \"more\"","raw":["ST,GS,  84.6 g","0"]}`
	first, rest, _ := strings.Cut(string(content(t, dir)), "\n")
	assert.Equal(t, want, first)
	assert.True(t, strings.HasPrefix(rest, `{"seq":2,"at":"2026-11-25T12:00:01.123456789+01:00","kind":"portion","batch":"T1","by":"Mara","prev":"`), rest)
	assert.True(t, strings.HasSuffix(rest, "\"}\n"), "a fact with no body is a head alone: %s", rest)
}

// The promise of the package comment, kept with the tools it names.
func TestChainWithSha256sum(t *testing.T) {
	for _, tool := range []string{"sha256sum", "sed"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skip("no " + tool + " here")
		}
	}
	j, dir := begin(t, 7, Options{})
	lines := bytes.Split(content(t, dir), []byte("\n"))
	for i := 1; i <= 7; i++ {
		out, err := exec.Command("sh", "-c", fmt.Sprintf("sed -n %dp %s | sha256sum", i, filepath.Join(dir, Name))).Output()
		require.NoError(t, err)
		sum := strings.Fields(string(out))[0]
		if i == 7 {
			assert.Equal(t, sum, j.Head().String())
			continue
		}
		var next struct{ Prev string }
		require.NoError(t, json.Unmarshal(lines[i], &next))
		assert.Equal(t, sum, next.Prev, "line %d", i+1)
	}
}

func TestTextsAreWrittenAsByTheLibrary(t *testing.T) {
	for _, s := range []string{"", "Mara", "Ilse & Mara <2>", `a"b\c`, "\x00\x1f\x7f", "Käthe", "\u2028", "a\xffb", "~ }{"} {
		var got, want bytes.Buffer
		require.NoError(t, quoted(&got, s))
		require.NoError(t, plain(&want, s))
		assert.Equal(t, want.String(), got.String())
	}
}

func TestReopen(t *testing.T) {
	j, dir := begin(t, 5, Options{})
	head := j.Head()
	require.NoError(t, j.Close())
	var seen []uint64
	j, rep, err := Open(dir, Options{Each: func(r Record) error { seen = append(seen, r.Seq); return nil }})
	require.NoError(t, err)
	defer func() { _ = j.Close() }()
	assert.Equal(t, []uint64{1, 2, 3, 4, 5}, seen)
	assert.Equal(t, uint64(5), rep.Lines)
	assert.Equal(t, head, rep.Head)
	assert.Equal(t, head, j.Head())
	assert.False(t, rep.Created)
	assert.Nil(t, rep.Torn)
	assert.True(t, rep.First.Equal(noon))
	assert.True(t, rep.Last.Equal(noon.Add(4*time.Second)))
	add(t, j, 2)
	rep, err = Scan(bytes.NewReader(content(t, dir)), nil)
	require.NoError(t, err)
	assert.Equal(t, uint64(7), rep.Lines)
	assert.Equal(t, j.Head(), rep.Head)
}

func TestAppendAll(t *testing.T) {
	f := &faulty{full: math.MaxInt64}
	j, dir := begin(t, 1, Options{Wrap: f.wrap})
	writes, syncs := f.writes, f.syncs
	rs, err := j.AppendAll(
		Entry{noon, "portion", "T1", "scale", pour{Material: "Zinc oxide"}},
		Entry{noon, "overpoured", "T1", "scale", json.RawMessage(`{"excess":{"g":"1.2"}}`)},
		Entry{At: noon, Kind: "noted"})
	require.NoError(t, err)
	assert.Equal(t, 1, f.writes-writes, "one write for all")
	assert.Equal(t, 1, f.syncs-syncs, "one sync for all")
	require.Len(t, rs, 3)
	var joined []byte
	for i, r := range rs {
		assert.Equal(t, uint64(i+2), r.Seq)
		joined = append(joined, r.Line...)
	}
	assert.True(t, bytes.HasSuffix(content(t, dir), joined))
	assert.Equal(t, rs[2].Hash, j.Head())
	_, err = Scan(bytes.NewReader(content(t, dir)), nil)
	require.NoError(t, err)
	rs, err = j.AppendAll()
	assert.NoError(t, err)
	assert.Empty(t, rs)
}

func TestUnfitIsNotWritten(t *testing.T) {
	j, dir := begin(t, 1, Options{})
	before := content(t, dir)
	for name, e := range map[string]Entry{
		"a float":               {noon, "portion", "", "", map[string]any{"g": 84.6}},
		"a float far inside":    {noon, "portion", "", "", map[string]any{"a": []any{map[string]float64{"b": 0.5}}}},
		"an exponent":           {noon, "portion", "", "", json.RawMessage(`{"g":1e3}`)},
		"not a number":          {noon, "portion", "", "", map[string]any{"g": math.NaN()}},
		"a list":                {noon, "portion", "", "", []string{"x"}},
		"a bare text":           {noon, "portion", "", "", "words"},
		"a name of the head":    {noon, "portion", "", "", map[string]any{"prev": "x"}},
		"no kind":               {noon, "", "", "", nil},
		"a year of five digits": {noon.AddDate(9000, 0, 0), "portion", "", "", nil},
		"a batch not in UTF-8":  {noon, "portion", "T\xff", "", nil},
		"a function":            {noon, "portion", "", "", func() {}},
		"a line too long":       {noon, "portion", "", "", map[string]string{"x": strings.Repeat("x", MaxLine)}},
	} {
		_, err := j.AppendAll(Entry{At: noon, Kind: "noted"}, e)
		assert.ErrorIs(t, err, ErrUnfit, name)
	}
	assert.Equal(t, before, content(t, dir))
	assert.NoError(t, j.Broken(), "what is unfit does no harm")
	add(t, j, 1)
	rep, err := Scan(bytes.NewReader(content(t, dir)), nil)
	require.NoError(t, err)
	assert.Equal(t, uint64(2), rep.Lines)
}

func TestClockThatGoesBack(t *testing.T) {
	j, dir := begin(t, 1, Options{})
	for _, d := range []time.Duration{10, 5, 5, 20, 19} {
		_, err := j.Append(noon.Add(d*time.Minute), "noted", "", "Ilse", nil)
		require.NoError(t, err)
	}
	// The same instant in another zone is no step back.
	_, err := j.Append(noon.Add(19*time.Minute).In(time.FixedZone("", -8*3600)), "noted", "", "Ilse", nil)
	require.NoError(t, err)
	// A zone with seconds, as before railway time, is written as UTC.
	_, err = j.Append(noon.Add(time.Hour).In(time.FixedZone("LMT", 3208)), "noted", "", "Ilse", nil)
	require.NoError(t, err)
	assert.Contains(t, string(content(t, dir)), `"at":"2026-11-25T12:00:00.123456789Z"`)
	rep, err := Scan(bytes.NewReader(content(t, dir)), nil)
	require.NoError(t, err)
	assert.Equal(t, uint64(2), rep.Backwards)
	require.Len(t, rep.Notes, 2)
	assert.Equal(t, uint64(3), rep.Notes[0].Line)
	assert.Contains(t, rep.Notes[0].Words, "went back by 5m0s")
	assert.Equal(t, uint64(6), rep.Notes[1].Line)
}

// Cut anywhere, the journal opens with every whole line, keeps the rest beside
// it, and goes on.
func TestCutAtEveryByte(t *testing.T) {
	_, dir := begin(t, 3, Options{})
	whole := content(t, dir)
	for n := range len(whole) + 1 {
		cut := whole[:n]
		dir := with(t, cut)
		j, rep, err := Open(dir, Options{At: noon, Wrap: unsynced})
		require.NoError(t, err, n)
		lines := bytes.Count(cut, []byte("\n"))
		keep := bytes.LastIndexByte(cut, '\n') + 1
		require.Equal(t, uint64(lines), rep.Lines, n)
		require.Equal(t, cut[:keep], content(t, dir))
		torn, err := filepath.Glob(filepath.Join(dir, "journal.torn-*"))
		require.NoError(t, err)
		if keep == n {
			require.Nil(t, rep.Torn)
			require.Empty(t, torn)
		} else {
			require.Equal(t, []string{filepath.Join(dir, "journal.torn-20261125T110000Z")}, torn)
			require.Equal(t, &Torn{Line: uint64(lines + 1), Offset: int64(keep), Bytes: int64(n - keep), Saved: torn[0]}, rep.Torn)
			saved, err := os.ReadFile(torn[0])
			require.NoError(t, err)
			require.Equal(t, cut[keep:], saved)
		}
		add(t, j, 1)
		require.NoError(t, j.Close())
		rep, err = Scan(bytes.NewReader(content(t, dir)), nil)
		require.NoError(t, err)
		require.Equal(t, uint64(lines+1), rep.Lines)
	}
}

func TestTornFilesDoNotCollide(t *testing.T) {
	dir := with(t, []byte("{"))
	for range 3 {
		j, rep, err := Open(dir, Options{At: noon})
		require.NoError(t, err)
		require.NotNil(t, rep.Torn)
		require.NoError(t, j.Close())
		require.NoError(t, os.WriteFile(filepath.Join(dir, Name), []byte("{"), 0o644))
	}
	torn, _ := filepath.Glob(filepath.Join(dir, "journal.torn-*"))
	assert.Len(t, torn, 3)
}

// Every bit of every byte is turned over. Before the last line, each must be
// found, and the line that holds the byte be named.
func TestFlipEveryBit(t *testing.T) {
	_, dir := begin(t, 6, Options{})
	whole := content(t, dir)
	last := bytes.LastIndexByte(whole[:len(whole)-1], '\n') + 1
	var head Hash
	{
		rep, err := Scan(bytes.NewReader(whole), nil)
		require.NoError(t, err)
		head = rep.Head
	}
	missed := 0
	for i := range whole {
		for bit := range 8 {
			b := bytes.Clone(whole)
			b[i] ^= 1 << bit
			rep, err := Scan(bytes.NewReader(b), nil)
			at := uint64(bytes.Count(whole[:i], []byte("\n")) + 1)
			if i < last {
				var d *Damage
				require.ErrorAs(t, err, &d, "byte %d bit %d: %s", i, bit, b)
				require.ErrorIs(t, err, ErrDamaged)
				require.Equal(t, at, d.Line, "byte %d bit %d: %v", i, bit, err)
				require.Equal(t, int64(bytes.LastIndexByte(whole[:i], '\n')+1), d.Offset)
				continue
			}
			// In the last line only the closing hash outside the file is a witness.
			if err == nil && rep.Torn == nil {
				missed++
				require.NotEqual(t, head, rep.Head)
			}
		}
	}
	assert.Positive(t, missed, "the package comment says that the last line has no witness; now it has one: say so there")
}

func TestDamageIsNamed(t *testing.T) {
	_, dir := begin(t, 6, Options{})
	l := bytes.SplitAfter(content(t, dir), []byte("\n"))[:6]
	edit := func(n int, old, new string) []byte {
		require.Contains(t, string(l[n-1]), old)
		return bytes.Replace(l[n-1], []byte(old), []byte(new), 1)
	}
	blank := []byte("\n")
	for name, c := range map[string]struct {
		lines [][]byte
		line  uint64
		why   string
	}{
		"changed in the middle":   {[][]byte{l[0], edit(2, "Mara", "Ilse"), l[2], l[3]}, 2, "line 3 has"},
		"prev changed":            {[][]byte{l[0], l[1], edit(3, `"prev":"`, `"prev":"0`), l[3]}, 3, "changed after it was written"},
		"line missing":            {[][]byte{l[0], l[2], l[3]}, 2, "its seq is 3 where 2 is due"},
		"lines swapped":           {[][]byte{l[0], l[2], l[1], l[3]}, 2, "its seq is 3 where 2 is due"},
		"line twice":              {[][]byte{l[0], l[1], l[1], l[2]}, 3, "its seq is 2 where 3 is due"},
		"first line missing":      {[][]byte{l[1], l[2]}, 1, "its seq is 2 where 1 is due"},
		"first prev":              {[][]byte{edit(1, `"prev":"0`, `"prev":"1`), l[1]}, 1, "must be 64 zeros"},
		"blank line":              {[][]byte{l[0], blank, l[1]}, 2, "it is blank"},
		"blank line at the start": {[][]byte{blank, l[0]}, 1, "it is blank"},
		"blank line at the end":   {[][]byte{l[0], l[1], blank}, 3, "it is blank"},
		"blanks only":             {[][]byte{l[0], []byte("  \r\n"), l[1]}, 2, "it is blank"},
		"bad JSON":                {[][]byte{l[0], edit(2, `"kind":`, `"kind"`), l[2]}, 2, "a colon is missing"},
		"no object":               {[][]byte{l[0], []byte("[]\n"), l[2]}, 2, "not a JSON object"},
		"a byte behind":           {[][]byte{l[0], edit(2, "}\n", "}}\n"), l[2]}, 2, "after the object"},
		"no prev":                 {[][]byte{l[0], edit(2, `"prev":`, `"ever":`), l[2]}, 2, "it has no prev"},
		"no time":                 {[][]byte{l[0], edit(2, `T12`, `T25`), l[2]}, 2, "is not a time"},
		"seq twice":               {[][]byte{l[0], edit(2, `"kind":`, `"seq":2,"kind":`), l[2]}, 2, "seq is in it twice"},
		"seq twice in disguise":   {[][]byte{l[0], edit(2, `"kind":`, `"\u0073eq":2,"kind":`), l[2]}, 2, "seq is in it twice"},
		"seq a text":              {[][]byte{l[0], edit(2, `"seq":2`, `"seq":"2"`), l[2]}, 2, "seq is not a number"},
		"seq a fraction":          {[][]byte{l[0], edit(2, `"seq":2`, `"seq":2.0`), l[2]}, 2, "not a whole number"},
		"not UTF-8":               {[][]byte{l[0], edit(2, `Mara`, "Mar\xff"), l[2]}, 2, "not UTF-8"},
		"zeros":                   {[][]byte{l[0], append(make([]byte, 99), '\n'), l[2]}, 2, "not a JSON object"},
	} {
		t.Run(name, func(t *testing.T) {
			b := bytes.Join(c.lines, nil)
			dir := with(t, b)
			_, rep, err := Open(dir, Options{})
			require.ErrorIs(t, err, ErrDamaged)
			var d *Damage
			require.ErrorAs(t, err, &d)
			assert.Equal(t, c.line, d.Line, err)
			assert.Contains(t, err.Error(), c.why)
			assert.Contains(t, err.Error(), fmt.Sprintf("line %d", c.line))
			assert.LessOrEqual(t, rep.Lines, c.line)
			assert.Equal(t, b, content(t, dir), "a damaged journal is left alone")
			_, err = Read(dir, nil)
			assert.ErrorIs(t, err, ErrDamaged)
			// The lock is free again.
			require.NoError(t, os.Remove(filepath.Join(dir, Name)))
			j, _, err := Open(dir, Options{})
			require.NoError(t, err)
			require.NoError(t, j.Close())
		})
	}
}

// Damage before a torn tail is damage: nothing is cut.
func TestDamagedAndTorn(t *testing.T) {
	_, dir := begin(t, 3, Options{})
	b := content(t, dir)
	b = bytes.Replace(b, []byte("Mara"), []byte("Ilse"), 1)
	dir = with(t, b[:len(b)-5])
	_, _, err := Open(dir, Options{})
	require.ErrorIs(t, err, ErrDamaged)
	assert.Equal(t, b[:len(b)-5], content(t, dir))
}

// What another program wrote in another order, with blanks, is a line as good as ours.
func TestAnyOrderOfFields(t *testing.T) {
	b := []byte(`{ "prev": "` + strings.Repeat("0", 64) + `", "x": [ ], "kind": "no\u0074ed", "at": "2026-11-25T12:00:00Z", "seq": 1, "n": {"seq": 9} } ` + "\r\n")
	var got Record
	rep, err := Scan(bytes.NewReader(b), func(r Record) error { got = r; return nil })
	require.NoError(t, err)
	assert.Equal(t, uint64(1), rep.Lines)
	assert.Equal(t, "noted", got.Kind)
}

func TestLock(t *testing.T) {
	j, dir := begin(t, 2, Options{})
	_, _, err := Open(dir, Options{})
	require.ErrorIs(t, err, ErrLocked)
	assert.Contains(t, err.Error(), fmt.Sprintf("process %d", os.Getpid()))
	assert.Contains(t, err.Error(), dir)
	// Reading needs no lock.
	rep, err := Read(dir, nil)
	require.NoError(t, err)
	assert.Equal(t, uint64(2), rep.Lines)
	require.NoError(t, j.Close())
	j, _, err = Open(dir, Options{})
	require.NoError(t, err)
	require.NoError(t, j.Close())
	_, err = j.Append(noon, "noted", "", "", nil)
	assert.ErrorIs(t, err, ErrBroken)
}

func TestReadOfNothing(t *testing.T) {
	dir := t.TempDir()
	_, err := Read(dir, nil)
	require.ErrorIs(t, err, fs.ErrNotExist)
	left, _ := os.ReadDir(dir)
	assert.Empty(t, left, "reading creates nothing")
}

func TestReadLeavesATornTail(t *testing.T) {
	_, dir := begin(t, 2, Options{})
	b := append(content(t, dir), "{\"seq\":3"...)
	dir = with(t, b)
	rep, err := Read(dir, nil)
	require.NoError(t, err)
	require.NotNil(t, rep.Torn)
	assert.Equal(t, uint64(3), rep.Torn.Line)
	assert.Equal(t, int64(8), rep.Torn.Bytes)
	assert.Equal(t, b, content(t, dir))
}

func TestDirectoryThatIsAFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(path, nil, 0o644))
	for _, dir := range []string{path, filepath.Join(path, "data")} {
		_, _, err := Open(dir, Options{})
		assert.Error(t, err)
	}
}

func TestEachMayStop(t *testing.T) {
	j, dir := begin(t, 3, Options{})
	require.NoError(t, j.Close())
	stop := errors.New("stop")
	_, _, err := Open(dir, Options{Each: func(Record) error { return stop }})
	require.ErrorIs(t, err, stop)
	j, _, err = Open(dir, Options{})
	require.NoError(t, err, "the lock is free")
	require.NoError(t, j.Close())
}

func TestAnotherProgramInTheFile(t *testing.T) {
	for name, harm := range map[string]func(path string) error{
		"added to":   func(p string) error { return appendTo(p, "x\n") },
		"cut":        func(p string) error { return os.Truncate(p, 10) },
		"moved away": func(p string) error { return os.Rename(p, p+".old") },
		"put another in its place": func(p string) error {
			b, err := os.ReadFile(p)
			if err != nil {
				return err
			}
			if err := os.Rename(p, p+".old"); err != nil {
				return err
			}
			return os.WriteFile(p, b, 0o644)
		},
	} {
		t.Run(name, func(t *testing.T) {
			j, _ := begin(t, 2, Options{})
			require.NoError(t, harm(j.Path()))
			_, err := j.Append(noon, "noted", "", "", nil)
			require.ErrorIs(t, err, ErrBroken)
			assert.Error(t, j.Broken())
		})
	}
}

func appendTo(path, s string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString(s)
	return errors.Join(err, f.Close())
}

func TestHashText(t *testing.T) {
	var h Hash
	// FIPS 180-4, "abc" (from memory; sha256sum gives the same).
	require.NoError(t, h.UnmarshalText([]byte("ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")))
	b, err := json.Marshal(h)
	require.NoError(t, err)
	assert.Equal(t, `"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"`, string(b))
	assert.Error(t, h.UnmarshalText([]byte("ba78")))
	assert.Error(t, h.UnmarshalText([]byte(strings.Repeat("g", 64))))
}
