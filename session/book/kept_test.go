package book

import (
	"bufio"
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/doubt"
)

// withoutSentences takes out of what a program reads all that is said to people, and
// the evidence that is copied from the journal as it stands.
func withoutSentences(t *testing.T, v any) any {
	t.Helper()
	j, err := json.Marshal(v)
	require.NoError(t, err)
	var out any
	d := json.NewDecoder(bytes.NewReader(j))
	d.UseNumber()
	require.NoError(t, d.Decode(&out))
	var slim func(v any) any
	slim = func(v any) any {
		switch v := v.(type) {
		case []any:
			for i := range v {
				v[i] = slim(v[i])
			}
		case map[string]any:
			for k, x := range v {
				_, weight := x.(map[string]any) // of a pour, "corrected" is a weight
				switch {
				case k == "corrected" && weight:
				case k == "words", k == "check", k == "corrected", k == "raw", k == "trace", k == "recipe":
					delete(v, k)
					continue
				}
				v[k] = slim(x)
			}
		}
		return v
	}
	return slim(out)
}

// asFar gives what is told, as far as it was told then: what is told besides, by now, does
// not count. Two things were judged anew since, and each is counted in anew by its name: a
// diluted colourant that its marks called in is one that nobody can tell, where the
// weighing leaves more open than is allowed; and a difference is held to be one of several
// materials compared. The worst verdict of a batch follows. Nothing else may differ.
func asFar(is, then any, anew map[string]int) any {
	switch then := then.(type) {
	case []any:
		if all, ok := is.([]any); ok && len(all) == len(then) {
			for i := range all {
				all[i] = asFar(all[i], then[i], anew)
			}
		}
	case map[string]any:
		if all, ok := is.(map[string]any); ok {
			for k, x := range all {
				was, told := then[k]
				switch {
				case !told:
					delete(all, k)
				case k == "differs" && was == true && x == false,
					(k == "verdict" && then["diluted"] != nil || k == "worst") && was == string(doubt.In) && x == string(doubt.Cannot):
					anew[k]++
					all[k] = was
				default:
					all[k] = asFar(x, was, anew)
				}
			}
		}
	}
	return is
}

// Every journal that was ever kept is told with the same weights, targets, marks,
// doubts, verdicts and hashes as by the program that wrote the goldens.
func TestKeptJournalsAreToldAsBefore(t *testing.T) {
	goldens, err := filepath.Glob("../../testdata/kept/*.golden")
	require.NoError(t, err)
	require.Greater(t, len(goldens), 15)
	anew := map[string]int{}
	for _, golden := range goldens {
		name := strings.TrimSuffix(filepath.Base(golden), ".golden")
		t.Run(name, func(t *testing.T) {
			path := strings.TrimSuffix(golden, ".golden") + ".jsonl"
			switch {
			case name == "whole":
				path = "../../testdata/journals/whole.jsonl"
			case strings.HasPrefix(name, "journal-"):
				path = "../../cmd/tared/testdata/" + name + ".jsonl"
			}
			b := bookOf(t, path)
			var newest []*Batch
			for _, n := range b.Batches() {
				newest = append([]*Batch{n}, newest...)
			}
			var got []any
			for _, n := range newest {
				got = append(got, n.Row())
			}
			for _, n := range newest {
				got = append(got, n.Made())
			}
			if len(newest) > 1 {
				got = append(got, Compare(newest...).Lines)
			}
			f, err := os.Open(golden)
			require.NoError(t, err)
			defer f.Close()
			lines := bufio.NewScanner(f)
			lines.Buffer(nil, 1<<20)
			for _, v := range got {
				require.True(t, lines.Scan(), "the golden has as many lines")
				told := withoutSentences(t, json.RawMessage(lines.Bytes()))
				is, err := json.MarshalIndent(asFar(withoutSentences(t, v), told, anew), "", " ")
				require.NoError(t, err)
				want, err := json.MarshalIndent(told, "", " ")
				require.NoError(t, err)
				assert.Equal(t, string(want), string(is))
			}
			assert.False(t, lines.Scan(), "the golden has no more lines")
		})
	}
	// Four colourants in three journals; "worst" stands in the list and in the batch, where it was
	// "in" before; "differs" stands at the material and at the batch that differs.
	assert.Equal(t, map[string]int{"verdict": 4, "worst": 4, "differs": 2}, anew, "testdata/kept/README.md")
}
