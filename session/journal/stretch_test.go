package journal

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// walked is all that a check of a journal tells.
type walked struct {
	report Report
	err    string
	lines  []string
}

func walk(b []byte, stretch int64) walked {
	var w walked
	each := func(r Record) error {
		w.lines = append(w.lines, fmt.Sprint(r.Seq, r.At, r.Kind, r.Batch, r.By, r.Hash, string(r.Line)))
		return nil
	}
	s := scan{stretch: stretch}
	var err error
	w.report, err = s.file(bytes.NewReader(b), int64(len(b)), each)
	w.err = fmt.Sprint(err)
	return w
}

// plainly is a stretch that no file is long enough for.
const plainly = 1 << 40

// onSeveral lets stretches be checked side by side on a machine of one processor too.
func onSeveral(t testing.TB) {
	before := runtime.GOMAXPROCS(3)
	t.Cleanup(func() { runtime.GOMAXPROCS(before) })
}

// However a journal is cut into stretches, and whatever is wrong with it, the
// walk over stretches says what the plain walk says, word for word.
func TestStretchesSayWhatThePlainWalkSays(t *testing.T) {
	onSeveral(t)
	j, dir := begin(t, 20, Options{Wrap: unsynced})
	_, err := j.Append(noon, "planned", "T2", "Ilse", pour{"a long line\nwith an escape", []string{strings.Repeat("x", 2500)}})
	require.NoError(t, err)
	add(t, j, 20)
	whole := content(t, dir)
	kept, err := filepath.Glob("../../testdata/journals/*.jsonl")
	require.NoError(t, err)
	require.NotEmpty(t, kept)
	all := map[string][]byte{"whole": whole, "empty": nil, "torn": append(bytes.Clone(whole), "{torn"...), "a newline": []byte("\n")}
	for _, name := range kept {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		all[name] = b
	}
	rng := rand.New(rand.NewPCG(2, 22))
	for i := range 100 {
		b, at := bytes.Clone(whole), rng.IntN(len(whole))
		switch rng.IntN(5) {
		case 0:
			b[at] ^= 1 << rng.IntN(8)
		case 1:
			b = append(b[:at], b[at+1:]...)
		case 2:
			b = append(b[:at:at], append([]byte("\n"), b[at:]...)...)
		case 3:
			b = b[:at]
		case 4: // a line is left out
			lines := bytes.SplitAfter(b, []byte("\n"))
			k := rng.IntN(len(lines) - 1)
			b = bytes.Join(append(lines[:k:k], lines[k+1:]...), nil)
		}
		all[fmt.Sprintf("changed %d", i)] = b
	}
	for name, b := range all {
		want := walk(b, plainly)
		for _, stretch := range []int64{97, 1000, 4096} {
			require.Equal(t, want, walk(b, stretch), "%s in stretches of %d", name, stretch)
		}
	}
	// And it is the stretches that did it, where nothing is wrong.
	for _, stretch := range []int64{1, 17, 97, 300, 1000, 4096} {
		s := scan{stretch: stretch}
		require.NoError(t, s.ahead(bytes.NewReader(whole), int64(len(whole)), nil))
		assert.EqualValues(t, len(whole), s.report.Bytes, "stretches of %d", stretch)
	}
}

// An error of the one who listens ends the walk at once.
func TestStretchesEndWithTheListener(t *testing.T) {
	onSeveral(t)
	_, dir := begin(t, 20, Options{Wrap: unsynced})
	whole := content(t, dir)
	n := 0
	s := scan{stretch: 300}
	rep, err := s.file(bytes.NewReader(whole), int64(len(whole)), func(Record) error {
		if n++; n == 7 {
			return os.ErrProcessDone
		}
		return nil
	})
	assert.ErrorIs(t, err, os.ErrProcessDone)
	assert.Equal(t, 7, n)
	assert.EqualValues(t, 7, rep.Lines)
}

// A disk that cannot be read is no damage, and a line that never ends is refused.
func TestStretchesOfABadDisk(t *testing.T) {
	onSeveral(t)
	_, dir := begin(t, 20, Options{Wrap: unsynced})
	whole := content(t, dir)
	s := scan{stretch: 300}
	_, err := s.file(spoiled{bytes.NewReader(whole), 2000}, int64(len(whole)), nil)
	assert.ErrorIs(t, err, os.ErrInvalid)
	assert.NotErrorIs(t, err, ErrDamaged)
	assert.Equal(t, walk(bytes.Repeat([]byte{' '}, MaxLine+9), plainly), walk(bytes.Repeat([]byte{' '}, MaxLine+9), stretchLength))
}

// spoiled cannot be read from a byte on.
type spoiled struct {
	r  *bytes.Reader
	at int64
}

func (d spoiled) ReadAt(b []byte, at int64) (int, error) {
	if at+int64(len(b)) > d.at {
		return 0, os.ErrInvalid
	}
	return d.r.ReadAt(b, at)
}

func FuzzStretches(f *testing.F) {
	onSeveral(f)
	kept, err := filepath.Glob("../../testdata/journals/*.jsonl")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range kept {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b, uint16(len(b)/5))
	}
	f.Fuzz(func(t *testing.T, b []byte, stretch uint16) {
		if want, got := walk(b, plainly), walk(b, int64(stretch)+1); !assert.ObjectsAreEqual(want, got) {
			t.Fatalf("%q in stretches of %d: want %v, got %v", b, stretch, want, got)
		}
	})
}
