package session

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/photo"
)

func TestAnEntryNamesItsPhotographs(t *testing.T) {
	dir := closedBatch(t)
	// The batch in work must be closed for this bench; only 260302a is written to.
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 4, 4))))
	name, err := photo.Keep(dir, &b)
	require.NoError(t, err)
	at := time.Date(2026, 3, 9, 9, 0, 0, 0, time.UTC)
	judge := func(photos ...string) (fact.Fact, error) {
		added, _, err := RecordEntry(dir, "", at, EntryRequest{Batch: "260302a", By: "Mara", Judged: &fact.Judged{Tile: "AC-A", Photos: photos}})
		return added, err
	}
	added, err := judge(name, name)
	require.NoError(t, err)
	assert.EqualValues(t, 5, added.Seq)
	for why, bad := range map[string][]string{
		"not the name of a photograph": {"../journal.jsonl"},
		"is missing":                   {strings.Repeat("0", 64) + ".jpg"},
		"12 at most":                   manyNames(13),
	} {
		_, err := judge(bad...)
		require.ErrorIs(t, err, ErrRefused)
		assert.ErrorContains(t, err, why)
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, photo.Dir, name), []byte("another"), 0o644))
	_, err = judge(name)
	assert.ErrorContains(t, err, "was changed")
	_, err = judge()
	assert.ErrorContains(t, err, "what came out")
}

func manyNames(n int) (out []string) {
	for i := range n {
		out = append(out, strings.Repeat(string("0123456789abcdef"[i]), 64)+".png")
	}
	return out
}

func TestACurveInWords(t *testing.T) {
	for text, why := range map[string]string{
		"100 °C/h to 600, then 60 °C/h to 1222; 15 min hold": "",
		"as always":                "",
		"0,20\n60,\n90,600":        "temperature is missing",
		"minutes;celsius\n0;20\n;": "time is missing",
		"0,20":                     "at least two lines",
	} {
		_, err := fired(fact.Fired{Kiln: "small kiln", Curve: text}, "")
		if why == "" {
			assert.NoError(t, err, text)
		} else {
			assert.ErrorContains(t, err, why, text)
		}
	}
}
