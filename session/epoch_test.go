package session

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/journal"
)

// runOnce opens a bench in dir, lets it say what it has to say, and closes it.
func runOnce(t *testing.T, dir, witness string) (v View, begins *fact.Began) {
	t.Helper()
	j, past, _, err := Open(dir, witness, time.Time{})
	require.NoError(t, err)
	b := New(Config{Recorder: Into(j), Past: past, Scales: benchScales})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	require.NoError(t, b.Alive(ctx))
	w := b.Watch(nil)
	defer w.Close()
	v = view(t, w)
	cancel()
	require.NoError(t, <-done)
	require.NoError(t, j.Close())
	return v, past.Begin
}

// TestEpochs: a record that is lost, older, or copied goes on as an epoch of its own,
// which names what was here; nobody is left to believe that it is whole.
func TestEpochs(t *testing.T) {
	top := t.TempDir()
	dir, witness := filepath.Join(top, "data"), filepath.Join(top, "state", "one.json")
	path := filepath.Join(dir, journal.Name)
	v, b := runOnce(t, dir, witness)
	require.Equal(t, &fact.Began{Epoch: 1, Format: fact.Format}, b)
	assert.Empty(t, v.Said, "that a record begins is no news")
	_, b = runOnce(t, dir, witness)
	assert.Nil(t, b, "it goes on")

	_, err := RecordKeep(dir, witness, time.Now(), lot("Quartz", "1kg"))
	require.NoError(t, err)
	early, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = RecordKeep(dir, witness, time.Now(), lot("Kaolin", "1kg")) // notes the third line
	require.NoError(t, err)

	t.Log("an older copy is put back")
	require.NoError(t, os.WriteFile(path, early, 0o640))
	v, b = runOnce(t, dir, witness)
	require.NotNil(t, b)
	assert.Equal(t, fact.BeganOlder, b.Why)
	assert.EqualValues(t, 2, b.Epoch)
	assert.EqualValues(t, 3, b.Lines)
	require.NotEmpty(t, v.Said)
	assert.Contains(t, v.Said[0].Says.String(), "not the record that was kept here last: that one had 3 lines")
	_, b = runOnce(t, dir, witness)
	assert.Nil(t, b, "said once")

	t.Log("an older copy, and what is recorded first is a lot")
	require.NoError(t, os.WriteFile(path, early, 0o640))
	_, err = RecordKeep(dir, witness, time.Now(), lot("Whiting", "1kg"))
	require.NoError(t, err)
	told, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Contains(t, string(told[len(early):]), `"why":"`+fact.BeganOlder+`"`)
	_, b = runOnce(t, dir, witness)
	assert.Nil(t, b, "it was said")

	t.Log("it is copied elsewhere")
	now, err := os.ReadFile(path)
	require.NoError(t, err)
	there, other := filepath.Join(top, "copy"), filepath.Join(top, "state", "two.json")
	require.NoError(t, os.Mkdir(there, 0o750))
	require.NoError(t, os.WriteFile(filepath.Join(there, journal.Name), now, 0o640))
	_, b = runOnce(t, there, other)
	require.NotNil(t, b)
	assert.Equal(t, fact.BeganCopy, b.Why)
	assert.EqualValues(t, 3, b.Epoch)
	_, b = runOnce(t, there, other)
	assert.Nil(t, b)

	t.Log("it is deleted")
	require.NoError(t, os.Remove(path))
	v, b = runOnce(t, dir, witness)
	require.NotNil(t, b)
	assert.Equal(t, fact.BeganGone, b.Why)
	assert.EqualValues(t, 4, b.Lines, "two that were left, the line that said so, and a lot")
	require.NotEmpty(t, v.Said)
	assert.Contains(t, v.Said[0].Says.String(), "is gone")
}

// TestDeletedUnderTheBench: the page says so before anybody weighs for nothing.
func TestDeletedUnderTheBench(t *testing.T) {
	dir := t.TempDir()
	b, stop := benchOn(t, dir)
	defer stop()
	w := b.Watch(nil)
	defer w.Close()
	require.True(t, view(t, w).Recording.OK)
	require.NoError(t, os.Remove(filepath.Join(dir, journal.Name)))
	require.Eventually(t, func() bool { return !view(t, w).Recording.OK }, time.Minute, 10*time.Millisecond)
	assert.Contains(t, view(t, w).Recording.Why.String(), "saved")
}

// TestNewerRecord: what a newer program wrote may be a weighing. So an open batch with
// a kind in it that nobody here knows is left alone, and one that is closed harms nothing.
func TestNewerRecord(t *testing.T) {
	body := json.RawMessage(`{"material":"Quartz","delivered":{"g":"120.0"}}`)
	for name, c := range map[string]struct {
		finish, newer bool
		kind          string
		body          json.RawMessage
	}{
		"an unknown kind in an open batch":    {kind: "weighed", body: body, newer: true},
		"an unknown kind in one that closed":  {kind: "weighed", body: body, finish: true},
		"a higher format":                     {kind: "began", body: json.RawMessage(`{"epoch":2,"format":2}`), finish: true, newer: true},
		"the format that this program writes": {kind: "began", body: json.RawMessage(`{"epoch":2,"format":1}`)},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			p := newPast(t, dir)
			p.begin()
			mark := p.b.s.Batch.Mark
			if c.kind == "began" {
				mark = ""
			}
			_, err := p.j.Append(p.now, c.kind, mark, "Mara", c.body)
			require.NoError(t, err)
			p.b.s.Seq = p.j.Len()
			if c.finish {
				p.weigh(20)
			}
			p.close()
			j, _, _, err := Open(dir, "", time.Time{})
			if c.newer {
				require.ErrorIs(t, err, ErrNewer)
				return
			}
			require.NoError(t, err)
			require.NoError(t, j.Close())
		})
	}
}

// TestReadOnlyAtTheStart: a disk that cannot be written is read, so that the page can show
// what is known.
func TestReadOnlyAtTheStart(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("root may write anything")
	}
	dir := stocked(t, lot("Quartz", "1kg"))
	require.NoError(t, os.Chmod(filepath.Join(dir, journal.Name), 0o440))
	_, past, _, err := Open(dir, "", time.Time{})
	require.Error(t, err)
	assert.Len(t, past.Stock.Lots(), 1)
}
