package journal

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// noted makes a journal of n lines, with a witness, and closes it.
func noted(t *testing.T, n int) (dir, witness string) {
	t.Helper()
	top := t.TempDir()
	dir, witness = filepath.Join(top, "data"), filepath.Join(top, "state", "heads", "one.json")
	addLines(t, dir, witness, "Ines", n)
	return dir, witness
}

func addLines(t *testing.T, dir, witness, by string, n int) {
	t.Helper()
	j, _, err := Open(dir, Options{Witness: witness})
	require.NoError(t, err)
	for range n {
		_, err := j.Append(time.Unix(1, 0), "noted", "B1", by, map[string]string{"text": "invented"})
		require.NoError(t, err)
	}
	require.NoError(t, j.Close())
}

// TestWitness: whatever became of a journal that somebody had seen, the next start
// can tell. The chain of each of these holds.
func TestWitness(t *testing.T) {
	shorten := func(t *testing.T, path string, lines int) {
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		all := bytes.SplitAfter(b, []byte("\n"))
		require.NoError(t, os.WriteFile(path, bytes.Join(all[:lines], nil), 0o640))
	}
	for name, c := range map[string]struct {
		harm                 func(t *testing.T, path, witness string)
		missing, unwitnessed bool
	}{
		"as it was":       {harm: func(*testing.T, string, string) {}},
		"gone":            {harm: func(t *testing.T, path, _ string) { require.NoError(t, os.Remove(path)) }, missing: true},
		"emptied":         {harm: func(t *testing.T, path, _ string) { require.NoError(t, os.Truncate(path, 0)) }, missing: true},
		"one line short":  {harm: func(t *testing.T, path, _ string) { shorten(t, path, 6) }, missing: true},
		"half of it":      {harm: func(t *testing.T, path, _ string) { shorten(t, path, 3) }, missing: true},
		"witness is gone": {harm: func(t *testing.T, _, witness string) { require.NoError(t, os.Remove(witness)) }, unwitnessed: true},
		"witness is torn": {harm: func(t *testing.T, _, witness string) { require.NoError(t, os.Truncate(witness, 9)) }, unwitnessed: true},
		"longer than it was seen": {harm: func(t *testing.T, path, _ string) {
			addLines(t, filepath.Dir(path), "", "Oskar", 5)
		}},
		"went on elsewhere": {harm: func(t *testing.T, path, _ string) {
			shorten(t, path, 4)
			addLines(t, filepath.Dir(path), "", "Oskar", 9)
		}, missing: true},
	} {
		t.Run(name, func(t *testing.T) {
			dir, witness := noted(t, 7)
			path := filepath.Join(dir, Name)
			c.harm(t, path, witness)
			if _, err := os.Stat(path); err == nil {
				rep, err := ReadWith(dir, Options{Witness: witness, Each: nil})
				require.NoError(t, err)
				assert.Equal(t, c.missing, rep.Missing != nil, "read")
			}
			j, rep, err := Open(dir, Options{Witness: witness})
			require.NoError(t, err)
			assert.Equal(t, c.missing, rep.Missing != nil)
			assert.Equal(t, c.unwitnessed, rep.Unwitnessed)
			if c.missing {
				assert.EqualValues(t, 7, rep.Missing.Lines)
			}
			// The fault stays until somebody records something about it.
			require.NoError(t, j.Close())
			j, rep, err = Open(dir, Options{Witness: witness})
			require.NoError(t, err)
			assert.Equal(t, c.missing, rep.Missing != nil, "at the second start")
			_, err = j.Append(time.Unix(2, 0), "noted", "", "Ines", nil)
			require.NoError(t, err)
			require.NoError(t, j.Close())
			rep, err = ReadWith(dir, Options{Witness: witness, Each: nil})
			require.NoError(t, err)
			assert.Nil(t, rep.Missing, "after a line about it")
			assert.False(t, rep.Unwitnessed)
		})
	}
}

// TestDeletedWhileOpen: a file that somebody deletes is noticed without a line to
// write, and what was in it is saved from the descriptor.
func TestDeletedWhileOpen(t *testing.T) {
	dir, witness := noted(t, 7)
	path := filepath.Join(dir, Name)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	j, _, err := Open(dir, Options{Witness: witness})
	require.NoError(t, err)
	require.NoError(t, j.Check(time.Unix(5, 0)))
	require.NoError(t, os.Remove(path))
	err = j.Check(time.Unix(5, 0))
	require.ErrorContains(t, err, "the file is gone")
	saved, err := filepath.Glob(filepath.Join(dir, "journal.saved-*"))
	require.NoError(t, err)
	require.Len(t, saved, 1)
	got, err := os.ReadFile(saved[0])
	require.NoError(t, err)
	assert.Equal(t, whole, got)
	_, err = j.Append(time.Unix(6, 0), "noted", "", "Ines", nil)
	require.ErrorIs(t, err, ErrBroken)
	assert.ErrorContains(t, err, filepath.Base(saved[0]), "whoever wants to record something is told where the lines are")
	require.NoError(t, j.Close())
	// Put back, it goes on.
	require.NoError(t, os.Rename(saved[0], path))
	_, rep, err := Open(dir, Options{Witness: witness})
	require.NoError(t, err)
	assert.Nil(t, rep.Missing)
}

// TestZerosAtTheEnd: after a power cut a file system may show zero bytes where the
// rest of a write was due, with or without what came behind them.
func TestZerosAtTheEnd(t *testing.T) {
	zeros := strings.Repeat("\x00", 40)
	for name, c := range map[string]struct {
		tail string
		torn bool
	}{
		"zeros alone":                  {zeros, true},
		"a line, then zeros":           {`{"seq":8,"at":"2026-11-`, true},
		"half, zeros":                  {`{"seq":8,"at":"2026-11-` + zeros, true},
		"half, zeros, the rest":        {`{"seq":8,"at":"2026-11-` + zeros + "\"}\n", true},
		"zeros, the rest":              {zeros + "\"}\n", true},
		"zeros, the rest, then a half": {zeros + "\"}\n{\"seq\":9", true},
		"two lines with zeros":         {zeros + "\"}\n" + zeros + "\n", true},
		"zeros, then a whole line":     {zeros + "\"}\n{\"seq\":9}\n", false},
		"no zeros":                     {"{\"seq\":8}\n", false},
	} {
		t.Run(name, func(t *testing.T) {
			dir, _ := noted(t, 7)
			path := filepath.Join(dir, Name)
			f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
			require.NoError(t, err)
			_, err = f.WriteString(c.tail)
			require.NoError(t, err)
			require.NoError(t, f.Close())
			j, rep, err := Open(dir, Options{})
			if !c.torn {
				require.ErrorIs(t, err, ErrDamaged)
				return
			}
			require.NoError(t, err)
			require.NotNil(t, rep.Torn)
			assert.EqualValues(t, len(c.tail), rep.Torn.Bytes)
			saved, err := os.ReadFile(rep.Torn.Saved)
			require.NoError(t, err)
			assert.Equal(t, c.tail, string(saved))
			_, err = j.Append(time.Unix(3, 0), "noted", "", "Ines", nil)
			require.NoError(t, err)
			require.NoError(t, j.Close())
			rep, err = Read(dir, nil)
			require.NoError(t, err)
			assert.EqualValues(t, 8, rep.Lines)
			assert.Nil(t, rep.Torn)
		})
	}
}

// TestModes: what potters write is nobody else's business.
func TestModes(t *testing.T) {
	dir, witness := noted(t, 1)
	for path, mode := range map[string]os.FileMode{dir: 0o750, filepath.Join(dir, Name): 0o640, filepath.Join(dir, "journal.lock"): 0o640, witness: 0o600, filepath.Dir(witness): 0o700} {
		info, err := os.Stat(path)
		require.NoError(t, err)
		assert.Zero(t, info.Mode().Perm()&^mode, "%s has %v", path, info.Mode())
	}
}
