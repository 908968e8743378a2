package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/web"
)

// bookOf gives pages the journal in dir, of which nobody writes more.
func bookOf(t *testing.T, dir string) web.Book {
	x, err := readIndex(dir, true)
	require.NoError(t, err)
	r := &bookReader{}
	r.begin(nil, &session.Past{Book: x}, nil)
	return pageBook{r}
}

// tellAll writes all that an index says of its batches.
func tellAll(t *testing.T, x *book.Index) string {
	var out bytes.Buffer
	rows, _, err := x.Search(book.Query{}, 0, x.Len())
	require.NoError(t, err)
	require.NoError(t, book.RenderList(&out, rows, nil))
	for n, err := range x.All() {
		require.NoError(t, err)
		require.NoError(t, n.Made().Render(&out))
	}
	return out.String()
}

// The book that is fed what a bench writes says at each line what a book says that is
// read anew, also where a page has it while lines come.
func TestBookReaderIsFed(t *testing.T) {
	whole, err := os.ReadFile("testdata/journal-2.jsonl")
	require.NoError(t, err)
	dir := t.TempDir()
	path := filepath.Join(dir, journal.Name)
	lines := bytes.SplitAfter(whole, []byte("\n"))
	lines = lines[:len(lines)-1]
	r := &bookReader{}
	require.NoError(t, os.WriteFile(path, lines[0], 0o600))
	x, err := readIndex(dir, true)
	require.NoError(t, err)
	r.begin(nil, &session.Past{Book: x}, nil)
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600)
	require.NoError(t, err)
	for i, l := range lines[1:] {
		_, err := f.Write(l)
		require.NoError(t, err)
		if i%3 == 0 {
			require.NoError(t, r.with(func(*book.Index) error { r.feed([][]byte{l}); return nil }))
		} else {
			r.feed([][]byte{l})
			require.Empty(t, r.lines, "nobody has it: they are taken at once")
		}
		fresh, err := readIndex(dir, true)
		require.NoError(t, err)
		require.NoError(t, r.with(func(x *book.Index) error {
			require.Equal(t, tellAll(t, fresh), tellAll(t, x))
			return nil
		}))
	}
	require.NoError(t, f.Close())

	// A line was changed: what rests on it is refused, the rest is told.
	require.NoError(t, os.WriteFile(path, bytes.Replace(whole, []byte(`"raw"`), []byte(`"war"`), 1), 0o600))
	p := pageBook{r}
	_, err = p.Batch(t.Context(), x.Mark(1))
	require.ErrorIs(t, err, book.ErrChanged)
	rows, all, err := p.Batches(t.Context(), "", book.Newest, 0, 100)
	require.NoError(t, err)
	assert.Len(t, rows, all)
}

// Of a damaged journal what stands before the damage is shown.
func TestBookOfADamagedJournal(t *testing.T) {
	whole, err := os.ReadFile("testdata/journal-2.jsonl")
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, journal.Name), append(bytes.Clone(whole), "{}\n"...), 0o600))
	x, err := readIndex(dir, true)
	require.ErrorIs(t, err, journal.ErrDamaged)
	r := &bookReader{}
	r.begin(nil, &session.Past{Book: x}, err)
	rows, _, err := pageBook{r}.Batches(t.Context(), "", book.Newest, 0, 100)
	require.NoError(t, err)
	assert.NotEmpty(t, rows)
	_, err = pageBook{r}.Label(t.Context(), "x", "2x4", "", "http://localhost/")
	require.ErrorIs(t, err, web.ErrNoBatch)

	_, err = readIndex(t.TempDir(), true)
	require.ErrorContains(t, err, "there is no journal")
	r.begin(nil, &session.Past{}, err)
	_, _, again := pageBook{r}.Batches(t.Context(), "", book.Newest, 0, 100)
	assert.Equal(t, err, again)
}

// A start behind a checkpoint takes old lines as they were checked; where one was changed
// since, recording stops as soon as that is found, and trying again reads all lines.
func TestAnOldLineThatWasChangedStopsRecording(t *testing.T) {
	dir := keptBatch(t)
	j, _, _, err := session.Open(dir, "", time.Time{})
	require.NoError(t, err)
	_, err = j.Append(time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC), "planned", "260303a", "Ilse", fact.Planned{Title: "Grotto"})
	require.NoError(t, err)
	require.NoError(t, j.Close())
	views := make(chan session.View, 1000)
	bench := func() (*liveBench, func()) {
		w, err := newLiveBench(liveBenchConfig{dir: dir, log: zerolog.Nop(), damaged: true, onView: func(v session.View) {
			select {
			case views <- v:
			default:
			}
		}})
		require.NoError(t, err)
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { done <- w.Run(ctx) }()
		return w, func() {
			cancel()
			require.NoError(t, <-done)
			require.NoError(t, w.Close())
		}
	}
	w, stop := bench()
	assert.Zero(t, w.record.toCheck(), "there was no checkpoint")
	stop()
	index := filepath.Join(dir, "journal.index")
	require.FileExists(t, index)
	w, stop = bench()
	require.Eventually(t, func() bool { return w.record.toCheck() == 0 }, patience(t), 10*time.Millisecond)
	stop()
	code, out, errs := tared(t, "record", "260302a", "--data", dir)
	require.Zero(t, code, errs)
	assert.Contains(t, out, "1000.0")

	path := filepath.Join(dir, journal.Name)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, bytes.Replace(whole, []byte("second line"), []byte("second lime"), 1), 0o600))
	code, _, errs = tared(t, "record", "260302a", "--data", dir)
	assert.Equal(t, exitFailed, code)
	assert.Contains(t, errs, "damaged at line 4", "the checkpoint is thrown away")
	w, stop = bench()
	for v := range views {
		if !v.Recording.OK {
			assert.Contains(t, v.Recording.Why.String(), "damaged at line 4")
			break
		}
	}
	assert.NoFileExists(t, index)
	stop()
	assert.NoFileExists(t, index, "of a journal in doubt none is kept")
	_, err = newLiveBench(liveBenchConfig{dir: dir, log: zerolog.Nop()})
	require.ErrorIs(t, err, journal.ErrDamaged)
}
