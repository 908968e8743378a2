package journal

import (
	"bytes"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// counting counts what is read of a file.
type counting struct {
	io.ReaderAt
	bytes int
}

func (c *counting) ReadAt(b []byte, off int64) (int, error) {
	n, err := c.ReaderAt.ReadAt(b, off)
	c.bytes += n
	return n, err
}

// Each line of a journal is found where it begins, whatever the lengths of the lines, and
// the next one behind the last; others are refused.
func TestSeekFindsEachLine(t *testing.T) {
	for _, lines := range []int{0, 1, 2, 3, 100} {
		j, _, err := Open(t.TempDir(), Options{})
		require.NoError(t, err)
		for i := range lines {
			_, err := j.Append(noon, "noted", "", "Mara", map[string]string{"text": strings.Repeat("\\\n", i*i*3%20_000)})
			require.NoError(t, err)
		}
		b := content(t, filepath.Dir(j.Path()))
		require.NoError(t, j.Close())
		at := int64(0)
		for i, line := range slices.Collect(bytes.Lines(b)) {
			got, err := Seek(bytes.NewReader(b), int64(len(b)), uint64(i+1))
			require.NoError(t, err)
			require.Equal(t, at, got, "line %d of %d", i+1, lines)
			at += int64(len(line))
		}
		got, err := Seek(bytes.NewReader(b), int64(len(b)), uint64(lines+1))
		require.NoError(t, err)
		require.Equal(t, at, got)
		for _, none := range []uint64{0, uint64(lines + 2), 1 << 60} {
			_, err = Seek(bytes.NewReader(b), int64(len(b)), none)
			require.Error(t, err, "line %d of %d", none, lines)
		}
	}
}

// What is read to find a line does not grow with the journal.
func TestSeekReadsLittle(t *testing.T) {
	j, _, err := Open(t.TempDir(), Options{Wrap: unsynced})
	require.NoError(t, err)
	for range 20_000 {
		_, err := j.Append(noon, "portion", "T1", "Mara", pour{"Quartz", []string{strings.Repeat("x", 200)}})
		require.NoError(t, err)
	}
	b := content(t, filepath.Dir(j.Path()))
	require.NoError(t, j.Close())
	for _, seq := range []uint64{1, 2, 9_999, 10_000, 19_999, 20_000, 20_001} {
		c := &counting{ReaderAt: bytes.NewReader(b)}
		_, err := Seek(c, int64(len(b)), seq)
		require.NoError(t, err)
		require.Less(t, c.bytes, 300_000, "of %d bytes", len(b))
	}
}
