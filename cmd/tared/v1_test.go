package main

import (
	"bytes"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/journal"
	"tared/web"
)

// What the API tells of each record that is kept is as its own description says, each batch
// is told of once, page by page, and its lines are the file.
func TestTheAPITellsKeptRecordsAsDescribed(t *testing.T) {
	files, err := filepath.Glob("../../testdata/kept/*.jsonl")
	require.NoError(t, err)
	more, err := filepath.Glob("testdata/*.jsonl")
	require.NoError(t, err)
	files = append(files, more...)
	require.Greater(t, len(files), 15)
	batches := 0
	for _, file := range files {
		dir := t.TempDir()
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, journal.Name), b, 0o600))
		get := apiOf(t, dir)
		var doc any
		doc, err = jsonschema.UnmarshalJSON(bytes.NewReader(get("openapi.json")))
		require.NoError(t, err)
		check := func(path, name string) []byte {
			c := jsonschema.NewCompiler()
			require.NoError(t, c.AddResource("https://tared.invalid/doc.json", doc))
			s, err := c.Compile("https://tared.invalid/doc.json#/paths/~1api~1v1~1" + name + "/get/responses/200/content/application~1json/schema")
			require.NoError(t, err)
			body := get(path)
			v, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
			require.NoError(t, err)
			require.NoError(t, s.Validate(v), "%s, %s: %s", file, path, body)
			return body
		}
		for _, name := range []string{"bench", "scales", "lots", "recipes"} {
			check(name, name)
		}
		var marks []string
		for before := "?most=2"; before != ""; {
			var page struct {
				Batches []struct{ Mark string }
				All     int
				Next    string
			}
			require.NoError(t, json.Unmarshal(check("batches"+before, "batches"), &page))
			for _, row := range page.Batches {
				assert.NotContains(t, marks, row.Mark)
				marks = append(marks, row.Mark)
				check("batches/"+row.Mark, "batches~1{mark}")
			}
			if before = ""; page.Next != "" {
				before = "?most=2&before=" + page.Next
			}
		}
		assert.Equal(t, strings.Count(string(b), `"kind":"planned"`), len(marks), file)
		batches += len(marks)
		now, err := os.ReadFile(filepath.Join(dir, journal.Name))
		require.NoError(t, err)
		assert.Equal(t, string(now), string(get("lines")), file)
	}
	assert.Greater(t, batches, 20)
}

// apiOf serves the record in dir, and gives what is asked of the API.
func apiOf(t *testing.T, dir string) func(path string) []byte {
	t.Helper()
	w, err := newLiveBench(liveBenchConfig{dir: dir, log: zerolog.Nop(), now: time.Now})
	require.NoError(t, err)
	ready, done := make(chan net.Addr, 1), make(chan error, 1)
	ctx := t.Context()
	go func() {
		done <- withPage(ctx, w, web.Config{Addr: "127.0.0.1:0", Log: zerolog.Nop(), Book: pageBook{&w.record}, Lines: pageLines{&w.record}, Ready: func(a net.Addr) { ready <- a }})
	}()
	t.Cleanup(func() { require.NoError(t, <-done); require.NoError(t, w.Close()) })
	url := "http://" + (<-ready).String() + "/api/v1/"
	require.NoError(t, w.bench.Alive(ctx)) // its own first line is written
	return func(path string) []byte {
		res, err := http.Get(url + path)
		require.NoError(t, err)
		defer func() { _ = res.Body.Close() }()
		b, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, res.StatusCode, "%s: %s", path, b)
		return b
	}
}
