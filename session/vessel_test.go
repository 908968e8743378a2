package session

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/sheet"
)

// readingBench is a bench on a journal with a closed batch, with a scale that says
// what a test puts on it.
func readingBench(t *testing.T) (*Bench, func(grams string, settled bool)) {
	t.Helper()
	dir := t.TempDir()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	j, _, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	_, err = Into(j).Append([]fact.Fact{
		{Seq: 1, At: at, Batch: "260302a", By: "Mara", Body: fact.Planned{Title: "Test glaze (invented)", Lines: []fact.Line{line("Quartz", "base", "1000", "10", "bench")}}},
		{Seq: 2, At: at, Batch: "260302a", By: "Mara", Body: fact.Portion{Material: "Quartz", Scale: "bench", Delivered: g("1000"), Step: g("0.1"), U: g("0.13"), How: "tipped"}},
		{Seq: 3, At: at, Batch: "260302a", By: "Mara", Body: fact.Finished{Base: g("1000"), Dry: g("1000")}}})
	require.NoError(t, err)
	require.NoError(t, j.Close())
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = j.Close() })
	now := at.Add(24 * time.Hour)
	b := New(Config{Recorder: Into(j), Past: past, Now: func() time.Time { return now },
		Scales: []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}, {Name: "eye", Step: g("0.01"), Eye: true}}})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-done })
	return b, func(grams string, settled bool) {
		m := g(grams)
		d, err := protocol.ParseDecimal(m.Grams(1))
		require.NoError(t, err)
		b.Feed(scale.Update{Scale: "bench", At: now, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: g("0.1"), Settled: settled,
			Reading: protocol.Reading{Status: protocol.OK, Value: d, Unit: protocol.UnitGram, Stable: protocol.Yes, Raw: []byte("bench " + d.String() + " g")}})
		// The line goes through another channel than a question does.
		for heard := false; !heard; {
			require.NoError(t, b.call(t.Context(), func() {
				p := b.s.pan("bench")
				heard = p.Usable() && p.Gross()-p.Carried() == m && p.Settled() == settled
			}))
		}
	}
}

// The vessel is filled with water once, and its volume follows from the density of
// water (checks with published densities are in slip); then a gravity is one weighing.
func TestAGravityOnTheBenchsOwnScale(t *testing.T) {
	b, put := readingBench(t)
	ctx := t.Context()
	read := func(grams string) uint64 {
		t.Helper()
		put(grams, true)
		r, err := b.Read(ctx, "bench")
		require.NoError(t, err)
		assert.Equal(t, grams, r.Shows)
		return r.ID
	}
	_, err := b.Read(ctx, "bench")
	assert.ErrorContains(t, err, "No reading from the bench scale")
	put("50.0", false)
	_, err = b.Read(ctx, "bench")
	assert.ErrorContains(t, err, "not steady")
	_, err = b.Read(ctx, "eye")
	assert.ErrorContains(t, err, "read by eye")
	_, err = b.Read(ctx, "none")
	assert.ErrorContains(t, err, "no scale")

	empty, water := read("52.1"), read("151.9")
	v, err := b.Measure(ctx, VesselRequest{Name: "the  cylinder", By: "Mara", Celsius: "20", Weighed: WeighedHere{empty, water}})
	require.NoError(t, err)
	assert.Equal(t, "the cylinder", v.Name)
	// 99.8 g of water of 998.2067 kg/m³ (20 °C, CIPM 2001).
	assert.Equal(t, "99.98", v.Volume)
	assert.Equal(t, []string{"bench 52.1 g", "bench 151.9 g"}, v.Water.Raw)
	vs, err := b.Vessels(ctx)
	require.NoError(t, err)
	require.Len(t, vs, 1)

	empty, full := read("52.1"), read("200.8")
	seq, err := b.AddEntry(ctx, EntryRequest{Batch: "260302a", By: "Mara", Watered: &WaterRequest{Vessel: "THE cylinder", SampleHere: WeighedHere{empty, full}}}, nil)
	require.NoError(t, err)
	assert.EqualValues(t, 5, seq)
	add0, add1 := read("400.0"), read("1300.0")
	_, err = b.AddEntry(ctx, EntryRequest{Batch: "260302a", By: "Mara", Watered: &WaterRequest{AddedHere: WeighedHere{add0, add1}}}, nil)
	require.NoError(t, err)

	for why, w := range map[string]WaterRequest{
		"no longer kept":               {Vessel: "the cylinder", SampleHere: WeighedHere{empty, 999}},
		"cannot be in the vessel":      {Vessel: "the cylinder", SampleHere: WeighedHere{full, empty}},
		"both weighed here and":        {Vessel: "the cylinder", Sample: "148.7g", SampleHere: WeighedHere{empty, full}},
		"has not been measured. These": {Vessel: "the bottle", SampleHere: WeighedHere{empty, full}},
		"not both":                     {Vessel: "the cylinder", Volume: "100ml", SampleHere: WeighedHere{empty, full}},
		"what did the slip":            {Vessel: "the cylinder"},
		"lighter than water":           {Vessel: "the cylinder", SampleHere: WeighedHere{After: empty}},
	} {
		_, err := b.AddEntry(ctx, EntryRequest{Batch: "260302a", By: "Mara", Watered: &w}, nil)
		require.ErrorIs(t, err, ErrRefused, why)
		assert.ErrorContains(t, err, why)
	}
	for why, w := range map[string]VesselRequest{
		"needs a name":     {By: "Mara", Water: "99.8g", Celsius: "18"},
		"A record needs":   {Name: "a", Water: "99.8g", Celsius: "18"},
		"How warm":         {Name: "a", By: "Mara", Water: "99.8g"},
		"Use 0 to 40":      {Name: "a", By: "Mara", Water: "99.8g", Celsius: "80"},
		"too small":        {Name: "a", By: "Mara", Water: "1.2g", Celsius: "18"},
		"water in the ves": {Name: "a", By: "Mara", Celsius: "18"},
	} {
		_, err := b.Measure(ctx, w)
		require.ErrorIs(t, err, ErrRefused, why)
		assert.ErrorContains(t, err, why)
	}
}

func TestAVesselIsKnownAgain(t *testing.T) {
	dir := closedBatch(t)
	at := time.Date(2026, 3, 9, 9, 0, 0, 0, time.UTC)
	for _, water := range []string{"99.0g", "99.8g"} {
		_, err := RecordVessel(dir, "", at, VesselRequest{Name: "the cylinder", By: "Mara", Water: water, Celsius: "20"})
		require.NoError(t, err)
	}
	_, err := RecordVessel(dir, "", at, VesselRequest{Name: "x", By: "Mara", Celsius: "20", Weighed: WeighedHere{1, 2}})
	assert.ErrorContains(t, err, "No bench is running")
	_, _, err = RecordEntry(dir, "", at, EntryRequest{Batch: "260302a", By: "Mara", Watered: &WaterRequest{Vessel: "the cylinder", SampleHere: WeighedHere{1, 2}}})
	assert.ErrorContains(t, err, "no bench is running")
	added, _, err := RecordEntry(dir, "", at, EntryRequest{Batch: "260302a", By: "Mara", Watered: &WaterRequest{Vessel: "the cylinder", Sample: "148.7g"}})
	require.NoError(t, err)
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	require.NoError(t, j.Close())
	require.Len(t, past.Vessels, 1, "the newest of a name counts")
	assert.Equal(t, g("99.8"), past.Vessels[0].Water.Mass)
	assert.EqualValues(t, 7, added.Seq)
}
