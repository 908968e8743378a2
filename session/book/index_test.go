package book

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/journal"
)

// indexed reads a journal into an index.
func indexOf(t testing.TB, lines []byte) *Index {
	t.Helper()
	x := NewIndex(bytes.NewReader(lines))
	_, err := journal.Scan(bytes.NewReader(lines), func(r journal.Record) error { x.Add(r); return nil })
	require.NoError(t, err)
	return x
}

func asJSON(t testing.TB, v any) string {
	t.Helper()
	j, err := json.Marshal(v)
	require.NoError(t, err)
	return string(j)
}

// same holds all that an index tells against a book that was given every line.
func same(t testing.TB, want *Book, x *Index) {
	t.Helper()
	require.Equal(t, len(want.batches), x.Len())
	rows, all, err := x.Search(Query{}, 0, x.Len())
	require.NoError(t, err)
	require.Equal(t, x.Len(), all)
	for i, n := range want.batches {
		require.Equal(t, asJSON(t, n.Row()), asJSON(t, rows[x.Len()-1-i]), n.Mark)
	}
	i := 0
	for n, err := range x.All() {
		require.NoError(t, err)
		require.Equal(t, asJSON(t, want.batches[i].Made()), asJSON(t, n.Made()), n.Mark)
		require.Equal(t, asJSON(t, want.batches[i].After(morning, nil)), asJSON(t, n.After(morning, nil)), n.Mark)
		i++
	}
	for _, n := range want.batches {
		found, err := x.Find(strings.ToUpper(n.Mark))
		require.NoError(t, err)
		require.Equal(t, asJSON(t, want.Find(n.Mark).Made()), asJSON(t, found.Made()))
		ws, wok := want.Series(n.Mark)
		gs, gok, err := x.Series(n.Mark)
		require.NoError(t, err)
		require.Equal(t, wok, gok)
		require.Equal(t, asJSON(t, ws), asJSON(t, gs))
	}
}

func TestIndexTellsWhatAFullReadingTells(t *testing.T) {
	for _, pattern := range []string{"../../testdata/kept/*.jsonl", "../../testdata/journals/whole.jsonl", "../../cmd/tared/testdata/journal-*.jsonl"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for _, file := range files {
			t.Run(filepath.Base(file), func(t *testing.T) {
				b, err := os.ReadFile(file)
				require.NoError(t, err)
				same(t, bookOf(t, file), indexOf(t, b))
			})
		}
	}
	assert.True(t, true)
}
