package journal

import (
	"bytes"
	"errors"
	"math"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// faulty is a file on a disk that fails as it is told to.
type faulty struct {
	File
	full          int64 // how many more bytes go onto the disk before it is full
	short         bool  // a write that does not fit says nothing of it
	noSync        error
	writes, syncs int
}

func (f *faulty) wrap(file File) File { f.File = file; return f }

func (f *faulty) Write(b []byte) (int, error) {
	f.writes++
	if int64(len(b)) <= f.full {
		f.full -= int64(len(b))
		return f.File.Write(b)
	}
	n, err := f.File.Write(b[:f.full])
	f.full = 0
	if err == nil && !f.short {
		err = syscall.ENOSPC
	}
	return n, err
}

func (f *faulty) Renew(b []byte, off int64) error {
	f.writes++
	return f.File.Renew(b, off)
}

func (f *faulty) Sync() error {
	f.syncs++
	if f.noSync != nil {
		return f.noSync
	}
	return f.File.Sync()
}

// unsynced spares the waiting for the disk where a test is about the bytes.
func unsynced(f File) File { return lazy{f} }

type lazy struct{ File }

func (lazy) Sync() error { return nil }

// The disk fills at each byte of an input of two facts.
func TestDiskFullAtEveryByte(t *testing.T) {
	two := []Entry{{noon, "portion", "T1", "scale", pour{Material: "Quartz"}}, {At: noon, Kind: "overpoured"}}
	var length int64
	{
		j, dir := begin(t, 2, Options{})
		before := len(content(t, dir))
		_, err := j.AppendAll(two...)
		require.NoError(t, err)
		length = int64(len(content(t, dir)) - before)
	}
	_, dir := begin(t, 2, Options{})
	base := content(t, dir)
	for _, short := range []bool{false, true} {
		for n := range length {
			f := &faulty{full: math.MaxInt64}
			dir := with(t, base)
			j, _, err := Open(dir, Options{Wrap: f.wrap})
			require.NoError(t, err)
			before, head := base, j.Head()
			f.full, f.short = n, short

			_, err = j.AppendAll(two...)
			require.ErrorIs(t, err, ErrBroken)
			if !short {
				require.ErrorIs(t, err, syscall.ENOSPC)
			}
			require.Error(t, j.Broken())
			require.Equal(t, head, j.Head(), "what was not acknowledged did not happen")

			// Room again, but never again on this descriptor.
			f.full = math.MaxInt64
			writes, syncs := f.writes, f.syncs
			_, err = j.Append(noon, "noted", "", "", nil)
			require.ErrorIs(t, err, ErrBroken)
			require.Equal(t, writes, f.writes)
			require.Equal(t, syncs, f.syncs)
			require.NoError(t, j.Close())

			after := content(t, dir)
			require.True(t, bytes.HasPrefix(after, before), "what was there stays")
			require.Len(t, after, len(before)+int(n), "what did get there is left alone")
			j, rep, err := Open(dir, Options{At: noon, Wrap: unsynced})
			require.NoError(t, err)
			whole := bytes.LastIndexByte(after, '\n') + 1
			require.Equal(t, after[:whole], content(t, dir))
			require.Equal(t, whole != len(after), rep.Torn != nil)
			add(t, j, 1)
			require.NoError(t, j.Close())
			_, err = Read(dir, nil)
			require.NoError(t, err)
		}
	}
}

func TestSyncFails(t *testing.T) {
	f := &faulty{full: math.MaxInt64}
	j, dir := begin(t, 2, Options{Wrap: f.wrap})
	head := j.Head()
	f.noSync = errors.New("input/output error")
	_, err := j.Append(noon, "portion", "T1", "scale", nil)
	require.ErrorIs(t, err, ErrBroken)
	require.ErrorIs(t, err, f.noSync)
	assert.Contains(t, err.Error(), "line 3 cannot be synced")
	assert.Equal(t, head, j.Head())
	f.noSync = nil
	writes, syncs := f.writes, f.syncs
	for range 3 {
		_, err = j.Append(noon, "portion", "T1", "scale", nil)
		require.ErrorIs(t, err, ErrBroken)
	}
	assert.Equal(t, writes, f.writes)
	assert.Equal(t, syncs, f.syncs, "a sync is never tried again on a descriptor that failed")
	// The lines that were acknowledged can still be read.
	n := 0
	_, err = Read(filepath.Dir(j.Path()), func(Record) error { n++; return nil })
	require.NoError(t, err)
	assert.GreaterOrEqual(t, n, 2)
	require.NoError(t, j.Close())
	// Only a new Open can tell what is there.
	j, rep, err := Open(dir, Options{})
	require.NoError(t, err)
	assert.Equal(t, uint64(3), rep.Lines)
	require.NoError(t, j.Close())
}

// Cutting the torn tail must itself be on the disk before anything follows.
func TestOpenFailsWhenTheCutCannotBeSynced(t *testing.T) {
	_, dir := begin(t, 2, Options{})
	b := append(content(t, dir), '{')
	dir = with(t, b)
	f := &faulty{noSync: errors.New("input/output error")}
	_, rep, err := Open(dir, Options{Wrap: f.wrap, At: noon})
	require.ErrorIs(t, err, f.noSync)
	require.NotNil(t, rep.Torn)
	torn, _ := filepath.Glob(filepath.Join(dir, "journal.torn-*"))
	assert.Len(t, torn, 1, "the bytes were saved before they were cut")
	j, _, err := Open(dir, Options{})
	require.NoError(t, err, "the lock is free")
	require.NoError(t, j.Close())
}

// remembering is a file of which a power cut leaves what was synced. A sync that
// failed has all before it taken for written, as kernels do.
type remembering struct {
	File
	there []byte
	dirty [][2]int64
	fail  bool
}

func (f *remembering) Write(b []byte) (int, error) {
	from := int64(0)
	for _, d := range f.dirty {
		from = max(from, d[1])
	}
	from = max(from, int64(len(f.there)))
	f.dirty = append(f.dirty, [2]int64{from, from + int64(len(b))})
	return f.File.Write(b)
}

func (f *remembering) Renew(b []byte, off int64) error {
	f.dirty = append(f.dirty, [2]int64{off, off + int64(len(b))})
	return f.File.Renew(b, off)
}

func (f *remembering) Sync() error {
	dirty := f.dirty
	f.dirty = nil
	if f.fail {
		return errors.New("input/output error")
	}
	for _, d := range dirty {
		if more := d[1] - int64(len(f.there)); more > 0 {
			f.there = append(f.there, make([]byte, more)...)
		}
		if _, err := f.File.ReadAt(f.there[d[0]:d[1]], d[0]); err != nil {
			return err
		}
	}
	return nil
}

// After a failed sync the lines can be read and are not on the disk. Open may take
// them up only when it has put them there, or what follows would hang in the air
// after a power cut.
func TestWhatAFailedSyncLeftIsWrittenOnceMore(t *testing.T) {
	for _, before := range []int{0, 2, atOnce - 1, 3*atOnce + 7} {
		f := &remembering{}
		wrap := func(file File) File { f.File = file; return f }
		j, dir := begin(t, before, Options{Wrap: wrap})
		f.fail = true
		es := make([]Entry, atOnce) // as much as can be left
		for i := range es {
			es[i] = Entry{At: noon, Kind: "noted"}
		}
		_, err := j.AppendAll(append(es, es[0])...)
		require.ErrorIs(t, err, ErrUnfit)
		_, err = j.AppendAll(es...)
		require.ErrorIs(t, err, ErrBroken)
		require.NoError(t, j.Close())
		require.Less(t, len(f.there), len(content(t, dir)))

		_, _, err = Open(dir, Options{Wrap: wrap})
		require.ErrorContains(t, err, "input/output error", "a disk that still fails is not believed")
		f.fail = false
		j, rep, err := Open(dir, Options{Wrap: wrap})
		require.NoError(t, err)
		require.EqualValues(t, before+atOnce, rep.Lines)
		require.Equal(t, content(t, dir), f.there, "what was read is on the disk")
		add(t, j, 1)
		require.NoError(t, j.Close())
		_, err = Scan(bytes.NewReader(f.there), nil)
		require.NoError(t, err)
		require.Equal(t, content(t, dir), f.there)
	}
}
