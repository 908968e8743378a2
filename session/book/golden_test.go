package book

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/journal"
)

var update = flag.Bool("update", false, "write the golden files anew")

// kept reads the kept journal of version 1: three invented batches.
func kept(t testing.TB) *Book { return bookOf(t, "../../testdata/journals/whole.jsonl") }

// bookOf reads a journal into a book.
func bookOf(t testing.TB, path string) *Book {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer func() { _ = f.Close() }()
	var b Book
	_, err = journal.Scan(f, func(r journal.Record) error {
		got, _, err := fact.Decode(r.Line)
		if err == nil {
			b.Add(got, r.Hash)
		}
		return err
	})
	require.NoError(t, err)
	return &b
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got), name)
}

func TestGolden(t *testing.T) {
	b := kept(t)
	t1, t2, t3 := b.Find("T1"), b.Find("t2"), b.Find("T3")
	var out bytes.Buffer
	take := func() []byte { c := bytes.Clone(out.Bytes()); out.Reset(); return c }

	var rows []Row
	for _, n := range b.Batches() {
		rows = append(rows, n.Row())
	}
	require.NoError(t, RenderList(&out, rows, nil))
	golden(t, "list.txt", take())
	for _, n := range b.Batches() {
		require.NoError(t, n.Made().Render(&out))
		golden(t, n.Mark+".txt", take())
	}
	j, err := json.MarshalIndent(t2.Made(), "", "  ")
	require.NoError(t, err)
	golden(t, "T2.json", append(j, '\n'))
	c := Compare(t1, t2)
	require.NoError(t, c.Render(&out))
	golden(t, "compare.txt", take())
	j, err = json.MarshalIndent(c, "", "  ")
	require.NoError(t, err)
	golden(t, "compare.json", append(j, '\n'))
	require.NoError(t, Compare(t1, t2, t3).Render(&out))
	golden(t, "compare-three.txt", take())
	require.NoError(t, WriteCSV(&out, false, nil, Only(t1, t2)))
	golden(t, "export.csv", take())
}
