package main

import (
	"time"

	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/book"
)

// A journal that was written once opens for ever, and says the same. Each version
// of the format adds a file here; none is ever changed. The batches are invented.
func TestJournalsOfOldVersionsOpen(t *testing.T) {
	files, err := filepath.Glob("testdata/journal-*.jsonl")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		whole, err := os.ReadFile(f)
		require.NoError(t, err)
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, "journal.jsonl"), whole, 0o600))
		want, err := os.ReadFile(f + ".want")
		require.NoError(t, err)
		x, err := readIndex(dir, true)
		require.NoError(t, err)
		said := ""
		var marks []string
		for n, err := range x.All() {
			require.NoError(t, err)
			m := n.Made()
			marks = append(marks, m.Mark)
			said += m.Mark + " " + m.Hash + "\n"
			for _, l := range m.Lines {
				said += l.Material + ": " + l.Delivered.String() + " " + l.Verdict + was(l) + "\n"
			}
			if m.Water != nil && m.Water.AtClosing != nil {
				said += m.Water.Material + ": " + m.Water.Delivered.String() + was(*m.Water) + "\n"
			}
			for _, e := range n.After(m.Finished, nil).Entries {
				said += fmt.Sprintf("%d %s by %s\n", e.Seq, e.Kind, e.By)
			}
		}
		assert.Equal(t, string(want), said, f)
		assert.NotEmpty(t, marks, f)
		code, _, errs := tared(t, "verify", "--data", dir)
		assert.Equal(t, 0, code, errs)
		j, past, _, err := session.Open(dir, "", time.Time{})
		require.NoError(t, err)
		for _, m := range marks {
			assert.True(t, past.Marks[m], "%s: %s", f, m)
		}
		require.NoError(t, j.Close())
	}
}

// was tells what the closing line has, where it was corrected since.
func was(l book.Line) string {
	if l.AtClosing == nil {
		return ""
	}
	return fmt.Sprintf(" ± %s, was %s", l.U.Doubt(), l.AtClosing)
}

func TestRecordFinds(t *testing.T) {
	dir := keptBatch(t)
	code, _, errs := tared(t, "judge", "260302a", "--tile", "AA-C", "--tag", "matt", "--by", "Jonas", "--data", dir)
	require.Equal(t, 0, code, errs)
	for find, there := range map[string]bool{"": true, "tag:matt": true, "tag:gloss": false, "aa-c": true, "date:2026-03": true, "date:2025": false,
		"material:quartz by:mara": true, "mark:260302a tag:matt": true, "mark:260302c": false} {
		code, out, errs := tared(t, "record", "--find", find, "--data", dir, "--json")
		require.Equal(t, 0, code, errs)
		assert.Equal(t, there, out != "", "%q: %s", find, out)
	}
	_, out, _ := tared(t, "record", "--find", "tag:gloss", "--data", dir)
	assert.Equal(t, "No batch matches.\n", out, "there are batches, but none like that")
	code, _, errs = tared(t, "record", "--find", "tag:", "--data", dir)
	assert.Equal(t, 64, code)
	assert.Contains(t, errs, "nothing comes after tag.")
	code, _, _ = tared(t, "record", "260302a", "--find", "x", "--data", dir)
	assert.Equal(t, 64, code)
}
