package main

import (
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/journal"
)

// TestADeletedJournalIsPutBack: with the file gone, "try to record again" begins no new
// record in its place, which would leave the batch in work behind. Put back, it goes on.
func TestADeletedJournalIsPutBack(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	d := startOnEye(t, dir)
	status, said := say(t, d, "typed 10g")
	require.Less(t, status, 300, said)
	was := benchView(t, d.url).Batch
	path := filepath.Join(dir, journal.Name)
	require.NoError(t, os.Remove(path))
	require.Eventually(t, func() bool { return benchView(t, d.url).Now.State == "blind" }, patience(t), 20*time.Millisecond)

	for range 2 {
		status, said = say(t, d, "record")
		assert.Equal(t, http.StatusConflict, status)
		assert.Contains(t, said, "journal.saved-", "it says where the lines are")
		assert.NotContains(t, said, "..")
		assert.NoFileExists(t, path)
	}
	saved, err := filepath.Glob(filepath.Join(dir, "journal.saved-*"))
	require.NoError(t, err)
	require.Len(t, saved, 1)
	require.NoError(t, os.Rename(saved[0], path))
	status, said = say(t, d, "record")
	require.Less(t, status, 300, said)
	v := benchView(t, d.url)
	assert.True(t, v.Recording.OK)
	assert.Equal(t, was.Steps, v.Batch.Steps)
	status, said = say(t, d, "typed 10g")
	require.Less(t, status, 300, said)
	assert.Equal(t, exitDone, d.end(t))
	got := runTared(t, "", "verify", "--data", dir)
	assert.Equal(t, exitDone, got.code, got.err)
}
