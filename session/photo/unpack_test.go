package photo

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// progressive is a legal progressive JPEG of one grey: so many pixels, of which all three
// colours are as fine (ITU-T T.81, annex G), and scans that say the same again.
func progressive(w, h uint16, scans int) []byte {
	frame := append(binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16([]byte{8}, h), w), 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0)
	table := make([]byte, 65)
	for i := range table[1:] {
		table[i+1] = 1
	}
	out := append([]byte{0xff, soi}, segment(0xdb, string(table))...)
	out = append(out, segment(0xc2, string(frame))...)
	out = append(out, segment(0xc4, "\x00\x01"+string(make([]byte, 15))+"\x00")...) // the code 0: no difference
	out = append(out, segment(0xc4, "\x10\x01"+string(make([]byte, 15))+"\xe0")...) // the code 0: a long run of empty blocks
	blocks := (int(w) + 7) / 8 * ((int(h) + 7) / 8)
	out = append(out, segment(sos, "\x03\x01\x00\x02\x00\x03\x00\x00\x00\x00")...)
	out = append(out, make([]byte, (3*blocks+7)/8)...)
	for range scans {
		out = append(out, segment(sos, "\x01\x01\x00\x01\x3f\x00")...)
		out = append(out, make([]byte, (15*(blocks/16384+1)+7)/8)...)
	}
	return append(out, 0xff, eoi)
}

// A photograph of half a megabyte once took 1.5 GB.
func TestAProgressiveBombIsRefusedByItsHead(t *testing.T) {
	b := progressive(8160, 6120, 0)
	require.Less(t, len(b), 400_000)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, _, err := Clean(bytes.NewReader(b))
	runtime.ReadMemStats(&after)
	require.ErrorIs(t, err, ErrPhoto)
	assert.ErrorContains(t, err, "8160 by 6120 pixels")
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(16<<20))

	_, _, err = Clean(bytes.NewReader(progressive(640, 480, 3)))
	require.NoError(t, err, "the like of it in a usual size is a photograph")
}

// What the head does not tell ends the process that unpacks, and nothing else.
func TestUnpackingDiesAlone(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("the memory of a process is held on Linux only")
	}
	memory, wait := unpackMemory, unpackTime
	defer func() { unpackMemory, unpackTime = memory, wait }()
	b := progressive(2400, 1600, 0) // 3.84 million of 15 bytes
	_, _, err := Clean(bytes.NewReader(b))
	require.NoError(t, err)
	unpackMemory = 24 << 20
	_, _, err = Clean(bytes.NewReader(b))
	require.ErrorIs(t, err, ErrPhoto)
	assert.ErrorContains(t, err, "too much memory or time")

	dir := t.TempDir()
	old := string(bytes.Repeat([]byte("ab"), 32)) + ".jpg" // kept by an older program
	require.NoError(t, os.MkdirAll(filepath.Join(dir, Dir), 0o750))
	require.NoError(t, os.WriteFile(filepath.Join(dir, Dir, old), b, 0o640))
	_, err = Small(dir, old)
	require.ErrorIs(t, err, ErrPhoto)
	unpackMemory = 0 // a process that began now would say something else
	_, again := Small(dir, old)
	assert.Equal(t, err, again)

	unpackMemory, unpackTime = memory, 300*time.Millisecond
	start := time.Now()
	_, _, err = Clean(bytes.NewReader(progressive(2400, 1600, 20_000)))
	require.ErrorIs(t, err, ErrPhoto)
	assert.ErrorContains(t, err, "too much memory or time")
	assert.Less(t, time.Since(start), 30*time.Second)
	assert.Empty(t, os.Getenv(unpackVar))
}
