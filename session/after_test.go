package session

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/fact/facttest"
	"tared/session/journal"
)

// closedBatch writes a journal with one invented batch that is closed and one
// that is in work.
func closedBatch(t *testing.T) string {
	dir := t.TempDir()
	j, _, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	var facts []fact.Fact
	put := func(mark string, body fact.Body) {
		facts = append(facts, fact.Fact{Seq: uint64(len(facts) + 1), At: at, Batch: mark, By: "Mara", Body: body})
	}
	put("260302a", fact.Planned{Title: "Test glaze (invented)", Lines: []fact.Line{line("Quartz", "base", "1000", "10", "bench")}})
	put("260302a", fact.Portion{Material: "Quartz", Scale: "bench", Delivered: g("1000"), Step: g("0.1"), How: "typed"})
	put("260302a", fact.Finished{Base: g("1000"), Dry: g("1000")})
	put("260302c", fact.Planned{Title: "Another (invented)", Lines: []fact.Line{line("Quartz", "base", "1000", "10", "bench")}})
	_, err = Into(j).Append(facts)
	require.NoError(t, err)
	require.NoError(t, j.Close())
	return dir
}

// entryIn reads the entries of a batch off the disk.
func entryIn(dir, mark string) func(uint64) book.Amendable {
	return func(seq uint64) (w book.Amendable) {
		if n := bookIn(dir).Find(mark); n != nil {
			w = n.Amendable(seq)
		}
		return w
	}
}

func indexIn(t *testing.T, dir string) *book.Index {
	x := book.NewIndex(journal.At(dir))
	_, err := journal.Read(dir, func(r journal.Record) error { x.Add(r); return nil })
	require.NoError(t, err)
	return x
}

func bookIn(dir string) *book.Book {
	var b book.Book
	_, err := journal.Read(dir, func(r journal.Record) error {
		f, _, err := fact.Decode(r.Line)
		b.Add(f, r.Hash)
		return err
	})
	if err != nil {
		panic(err)
	}
	return &b
}

func TestAfterIsRefused(t *testing.T) {
	dir := closedBatch(t)
	ok := WaterRequest{Added: "900g"}
	for words, r := range map[string]EntryRequest{
		"one thing at":             {Batch: "260302a", By: "Mara"},
		"needs a name":             {Batch: "260302a", By: "  ", Watered: &ok},
		"no batch":                 {Batch: "260302z", By: "Mara", Watered: &ok},
		"still being":              {Batch: "260302c", By: "Mara", Watered: &ok},
		"How much water":           {Batch: "260302a", By: "Mara", Watered: &WaterRequest{}},
		"no unit":                  {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Added: "900"}},
		"more than zero":           {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Added: "0g"}},
		"Is the unit right?":       {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Added: "5000kg"}},
		"of a vessel must":         {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Sample: "145g", Volume: "0ml"}},
		"lighter than water":       {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Sample: "99g", Volume: "100ml"}},
		"denser than any glaze":    {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Sample: "301g", Volume: "100ml"}},
		"not both":                 {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Sample: "145g", Volume: "100ml", Bottle: "99g"}},
		"how much does the vessel": {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Sample: "145g"}},
		"what did the slip":        {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Volume: "100ml"}},
		"temperature is that":      {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Sample: "145g", Volume: "100ml", Celsius: "18"}},
		"by which standard?":       {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Mesh: "100"}},
		"Give the opening":         {Batch: "260302a", By: "Mara", Watered: &WaterRequest{Mesh: "85", Standard: "US"}},
		"Which kiln":               {Batch: "260302a", By: "Mara", Fired: &fact.Fired{Cone: "6"}},
		"temperature is missing":   {Batch: "260302a", By: "Mara", Fired: &fact.Fired{Kiln: "small", Curve: "0,20\n60,"}},
		"Which tile":               {Batch: "260302a", By: "Mara", Judged: &fact.Judged{Words: "glossy"}},
		"what came out":            {Batch: "260302a", By: "Mara", Judged: &fact.Judged{Tile: "KD-A"}},
		"cannot be shown":          {Batch: "260302a", By: "Mara", Judged: &fact.Judged{Tile: "KD-A", Words: "\x1b[2J"}},
		"a reason for":             {Batch: "260302a", By: "Mara", Strike: &StrikeRequest{Entry: 2}},
		"Only a portion":           {Batch: "260302a", By: "Mara", Strike: &StrikeRequest{Entry: 1, Reason: "wrong"}},
		"has no entry 99":          {Batch: "260302a", By: "Mara", Strike: &StrikeRequest{Entry: 99, Reason: "wrong"}},
	} {
		_, _, err := RecordEntry(dir, "", time.Now(), r)
		require.ErrorIs(t, err, ErrRefused, words)
		assert.ErrorContains(t, err, words)
	}
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	assert.EqualValues(t, 4, rep.Lines, "nothing that was refused is recorded")
}

// Digits are kept as they were typed: they carry the step.
func TestAfterIsRecorded(t *testing.T) {
	dir := closedBatch(t)
	at := time.Date(2026, 3, 3, 9, 0, 0, 0, time.UTC)
	do := func(r EntryRequest) uint64 {
		r.Batch, r.By = "260302A", "Jonas"
		added, _, err := RecordEntry(dir, "", at, r)
		require.NoError(t, err)
		assert.Equal(t, "260302a", added.Batch, "a mark may be typed in any case")
		return added.Seq
	}
	do(EntryRequest{Watered: &WaterRequest{Added: "0.90kg", Mesh: "100", Standard: "us"}})
	seq := do(EntryRequest{Watered: &WaterRequest{Sample: "148,70 g", Bottle: "99.8g", Celsius: "20", Seconds: "22"}})
	do(EntryRequest{Strike: &StrikeRequest{Entry: seq, Reason: "the vessel was not full"}})
	var lines []string
	_, err := journal.Read(dir, func(r journal.Record) error {
		if r.Seq > 4 {
			body, err := fact.DecodeBody(r.Kind, r.Line)
			require.NoError(t, err)
			j, err := facttest.Body(body)
			require.NoError(t, err)
			assert.Contains(t, string(r.Line), string(j[1:]), "decoding and encoding changes nothing")
			lines = append(lines, r.Kind+string(j))
		}
		return nil
	})
	require.NoError(t, err)
	assert.Equal(t, []string{
		`watered{"added":{"mass":{"g":"900"},"step":{"g":"10"}},"mesh":"100","standard":"US","opening":"150"}`,
		`watered{"sample":{"mass":{"g":"148.70"},"step":{"g":"0.01"}},"volume":"99.98","bottle":{"mass":{"g":"99.8"},"step":{"g":"0.1"}},"celsius":"20","gravity":"1.4900","seconds":"22"}`,
		`amended{"of":6,"reason":"the vessel was not full","was":{"g":"0"},"is":{"g":"0"},"void":true,"field":"watered","new":"does not count"}`,
	}, lines)
}

// A bench that is running records it too, and goes on with the batch in work.
func TestAfterBesideABatchInWork(t *testing.T) {
	dir := closedBatch(t)
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	b := New(Config{Recorder: Into(j), Past: past})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	seq, err := b.AddEntry(ctx, EntryRequest{Batch: "260302a", By: "Mara", Watered: &WaterRequest{Added: "900g"}}, entryIn(dir, "260302a"))
	require.NoError(t, err)
	assert.EqualValues(t, 6, seq, "after the line that tells of the restart")
	require.NoError(t, b.Do(ctx, Command{Word: "note", Rest: "the batch in work goes on"}))
	_, err = b.AddEntry(ctx, EntryRequest{Batch: "260302c", By: "Mara", Watered: &WaterRequest{Added: "900g"}}, entryIn(dir, "260302a"))
	assert.ErrorContains(t, err, "still being weighed")
	cancel()
	require.NoError(t, <-done)
	require.NoError(t, j.Close())
	_, again, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	assert.EqualValues(t, 7, again.Seq)
}
