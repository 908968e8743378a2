package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/journal"
	"tared/web"
)

// The book that is kept while a bench runs says at each line what a book that is
// read anew says, and is read anew where the file is not the one that it was.
func TestBookReaderFollows(t *testing.T) {
	whole, err := os.ReadFile("testdata/journal-2.jsonl")
	require.NoError(t, err)
	dir := t.TempDir()
	path := filepath.Join(dir, journal.Name)
	lines := bytes.SplitAfter(whole, []byte("\n"))
	r := &bookReader{dir: dir}
	tell := func(b *book.Book) (s string) {
		for _, n := range b.Batches() {
			var out bytes.Buffer
			require.NoError(t, n.Made().Render(&out))
			s += out.String()
		}
		return s
	}
	same := func() {
		t.Helper()
		fresh, err := readBook(dir)
		require.NoError(t, err)
		require.NoError(t, r.with(func(b *book.Book) error {
			assert.Equal(t, tell(fresh), tell(b))
			return nil
		}))
	}
	assert.ErrorContains(t, r.with(func(*book.Book) error { return nil }), "there is no journal")
	f, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	require.NoError(t, err)
	kept := (*book.Book)(nil)
	for i, l := range lines {
		half := len(l) / 2
		for _, part := range [][]byte{l[:half], l[half:]} { // also with a line in the making
			_, err := f.Write(part)
			require.NoError(t, err)
			if i > 0 {
				same()
			}
		}
		if i == 1 {
			kept = r.book
		}
	}
	require.NoError(t, f.Close())
	require.NotNil(t, kept)
	assert.Same(t, kept, r.book, "it was followed all the way, and never read anew")

	// A line that does not fit: the plain reading says so.
	changed := bytes.Clone(whole)
	require.NoError(t, os.WriteFile(path, append(changed, []byte(`{"seq":41,"at":"2026-11-26T03:50:00+01:00","kind":"noted","batch":"261126a","by":"Mara","prev":"00","text":"x"}`+"\n")...), 0o600))
	require.NoError(t, r.with(func(b *book.Book) error { return nil }), "what stands before is lent")
	assert.ErrorIs(t, r.err, journal.ErrDamaged)
	before := r.book
	require.NoError(t, r.with(func(b *book.Book) error { return nil }))
	assert.Same(t, before, r.book, "nor is it read once more before the file changes")
	_, err = readBook(dir)
	assert.ErrorIs(t, err, journal.ErrDamaged)

	// The same length and another time, a shorter file, another file.
	require.NoError(t, os.WriteFile(path, whole, 0o600))
	same()
	kept = r.book
	require.NoError(t, os.Chtimes(path, time.Time{}, time.Now().Add(time.Hour)))
	same()
	assert.NotSame(t, kept, r.book)
	kept = r.book
	require.NoError(t, os.WriteFile(path, bytes.Join(lines[:20], nil), 0o600))
	same()
	assert.NotSame(t, kept, r.book)
	kept = r.book
	require.NoError(t, os.Rename(path, path+".old"))
	require.NoError(t, os.WriteFile(path, whole, 0o600))
	same()
	assert.NotSame(t, kept, r.book)
}

// Whoever reaches the page may ask for what is not there, as often as he likes: only the
// first one to ask has the journal read, damaged or whole.
func TestAskingReadsTheJournalOnce(t *testing.T) {
	whole, err := os.ReadFile("testdata/journal-2.jsonl")
	require.NoError(t, err)
	for name, lines := range map[string][]byte{
		"whole": whole, "damaged": append(bytes.Clone(whole), "{}\n"...), "not to be understood": []byte(`{"seq":1}` + "\n"), "damaged at once": bytes.Replace(whole, []byte(`"seq":1`), []byte(`"seq":2`), 1),
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, journal.Name)
		require.NoError(t, os.WriteFile(path, lines, 0o600))
		p := bookOf(dir)
		_, err = p.Label(t.Context(), "x", "2x4", "", "http://localhost/")
		require.Error(t, err, name)
		if name == "whole" || name == "damaged" {
			require.ErrorIs(t, err, web.ErrNoBatch)
		}
		// Whoever reads it now reads something else, and the clock does not tell.
		info, err2 := os.Stat(path)
		require.NoError(t, err2)
		require.NoError(t, os.WriteFile(path, bytes.Repeat([]byte("x"), len(lines)), 0o600))
		require.NoError(t, os.Chtimes(path, time.Time{}, info.ModTime()))
		_, again := p.Label(t.Context(), "x", "2x4", "", "http://localhost/")
		assert.Equal(t, err, again, name)
		_, err = p.Batch(t.Context(), "x")
		assert.Error(t, err)
		rows, _ := p.Batches(t.Context(), "")
		assert.Equal(t, name == "whole" || name == "damaged", len(rows) > 0, name)
	}
}
