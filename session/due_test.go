package session

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/session/fact"
	"tared/session/fact/facttest"
)

func TestDue(t *testing.T) {
	at := time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)
	water := fact.Watered{Added: fact.Typed{Mass: g("700"), Step: g("1")}}
	gravity := fact.Watered{Gravity: "1.4500"}
	type step struct {
		after time.Duration
		body  fact.Body
	}
	for _, c := range []struct {
		name  string
		steps []step
		look  time.Duration
		want  string
	}{
		{"overnight", []step{{0, water}}, 18 * time.Hour, "since yesterday"},
		{"still the same day", []step{{0, water}}, 3 * time.Hour, ""},
		{"measured at once is not measured after the night", []step{{0, water}, {time.Hour, gravity}}, 18 * time.Hour, "since yesterday"},
		{"measured on the next day", []step{{0, water}, {17 * time.Hour, gravity}}, 18 * time.Hour, ""},
		{"corrected: it stands anew", []step{{0, water}, {17 * time.Hour, gravity}, {17 * time.Hour, water}}, 41 * time.Hour, "since yesterday"},
		{"fired already", []step{{0, water}, {17 * time.Hour, fact.Fired{Kiln: "small kiln"}}}, 18 * time.Hour, ""},
		{"long ago", []step{{0, water}}, 20 * 24 * time.Hour, ""},
		{"some days ago", []step{{0, water}}, 72 * time.Hour, "since Monday"},
		{"weeks ago", []step{{0, water}}, 9 * 24 * time.Hour, "since 2 March"},
		{"struck out", []step{{0, water}, {time.Hour, fact.Amended{Of: 2, Void: true, Field: "watered"}}}, 18 * time.Hour, ""},
		{"weighed in as a step, and closed", []step{{0, fact.Portion{Material: "Water", Delivered: g("700")}}, {time.Minute, fact.Finished{}}}, 18 * time.Hour, "since yesterday"},
		{"weighed in, and not closed", []step{{0, fact.Portion{Material: "Water", Delivered: g("700")}}}, 18 * time.Hour, ""},
		{"abandoned", []step{{0, fact.Portion{Material: "Water", Delivered: g("700")}}, {time.Minute, fact.Finished{Abandoned: true}}}, 18 * time.Hour, ""},
		{"no water", []step{{0, gravity}}, 18 * time.Hour, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := buckets{}
			for i, st := range c.steps {
				s.Add(fact.Fact{Seq: uint64(i + 2), At: at.Add(st.after), Batch: "260302a", Body: st.body})
			}
			got := s.due(at.Add(c.look))
			if c.want == "" {
				assert.Empty(t, got)
				return
			}
			require.Len(t, got, 1)
			assert.Equal(t, "260302a", got[0].Batch)
			assert.Contains(t, got[0].Says.String(), c.want)
			assert.Contains(t, got[0].Says.String(), "260302a")
		})
	}
}

// A bench that is started on the next day reminds, from the journal alone, and
// stops when the gravity is there.
func TestDueOfAnOldJournal(t *testing.T) {
	dir := t.TempDir()
	yesterday := time.Date(2026, 3, 2, 15, 0, 0, 0, time.UTC)
	j, _, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	_, err = Into(j).Append([]fact.Fact{
		{Seq: 1, At: yesterday, Batch: "260302a", By: "Mara", Body: fact.Planned{Title: "Tile white (invented)", Water: line("Water", "water", "85", "2", "bench")}},
		{Seq: 2, At: yesterday, Batch: "260302a", By: "Mara", Body: fact.Portion{Material: "Water", Scale: "bench", Delivered: g("85"), How: "tipped"}},
		{Seq: 3, At: yesterday, Batch: "260302a", By: "Mara", Body: fact.Finished{}},
		{Seq: 4, At: yesterday, Batch: "260302b", By: "Mara", Body: fact.Planned{Title: "Another (invented)"}},
		{Seq: 5, At: yesterday, Batch: "260302b", By: "Mara", Body: fact.Finished{}}})
	require.NoError(t, err)
	require.NoError(t, j.Close())

	now := yesterday.Add(17 * time.Hour)
	j, past, _, err := open(dir, now)
	require.NoError(t, err)
	defer j.Close()
	b := New(Config{Recorder: Into(j), Past: past, Now: func() time.Time { return now }})
	due := b.view().Due
	require.Len(t, due, 1)
	assert.Equal(t, "260302a", due[0].Batch)

	run := t.Context()
	go func() { _ = b.Run(run) }()
	_, err = b.AddEntry(run, EntryRequest{Batch: "260302a", By: "Mara", Watered: &WaterRequest{Sample: "145.0g", Volume: "100ml"}}, nil)
	require.NoError(t, err)
	require.NoError(t, b.call(run, func() { assert.Empty(t, b.view().Due) }))
}

// A start reads the lines of the last days only, and reminds of the same batches as
// one that reads them all, whatever was done and when.
func TestAStartRemindsOfTheSameBatches(t *testing.T) {
	start := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		var facts []fact.Fact
		at, closed := start, map[string]bool{}
		weighed := []fact.Body{fact.Portion{Material: "Water", Delivered: g("85")}, fact.Portion{Material: "Quartz", Delivered: g("85")},
			fact.Finished{}, fact.Finished{Abandoned: true}}
		later := []fact.Body{fact.Watered{Added: fact.Typed{Mass: g("10")}}, fact.Watered{Gravity: "1.45"}, fact.Fired{}, fact.Judged{}}
		for i := range rapid.IntRange(1, 60).Draw(t, "lines") {
			at = at.Add(time.Duration(rapid.IntRange(0, 60).Draw(t, "hours")) * time.Hour)
			mark := rapid.SampledFrom([]string{"a", "b", "c"}).Draw(t, "batch")
			bodies := weighed
			if closed[mark] {
				bodies = later
			}
			body := rapid.SampledFrom(append(bodies, fact.Amended{Of: uint64(rapid.IntRange(1, i+1).Draw(t, "of")), Void: true})).Draw(t, "fact")
			if _, ok := body.(fact.Finished); ok {
				closed[mark] = true
			}
			facts = append(facts, fact.Fact{Seq: uint64(i + 1), At: at, Batch: mark, Body: body})
		}
		now := at.Add(time.Duration(rapid.IntRange(0, 400).Draw(t, "later")) * time.Hour)
		all, late := &buckets{}, &buckets{since: dueSince(now)}
		for _, f := range facts {
			all.Add(f)
			line, err := facttest.Line(f)
			require.NoError(t, err)
			if late.Reads(f.Body.Kind(), f.Batch, f.At, line) {
				late.Add(f)
			}
		}
		require.Equal(t, all.due(now), late.due(now))
	})
}
