package session

import (
	"time"

	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/journal"
)

// A start knows that the tub of the cup in work was corrected since: the cup holds
// what the record says it holds.
func TestAStartKnowsThatTheTubWasCorrected(t *testing.T) {
	raw, err := os.ReadFile("../testdata/kept/series-corrected.jsonl")
	require.NoError(t, err)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, journal.Name), raw, 0o600))
	var all batch.Work
	var before *batch.Batch // the last cup, before anything was corrected
	_, err = journal.Read(dir, func(r journal.Record) error {
		f, _, err := fact.Decode(r.Line)
		if _, late := f.Body.(fact.Amended); late && before == nil {
			before = all.Batch
		}
		all = all.Apply(f)
		return err
	})
	require.NoError(t, err)

	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	require.NoError(t, j.Close())
	var got batch.Work
	for _, f := range past.Facts {
		got = got.Apply(f)
	}
	require.Equal(t, "260302a-2", got.Batch.Mark)
	assert.Equal(t, all.Batch, got.Batch)
	assert.Equal(t, all.Series.Tub, got.Series.Tub)

	quartz := func(b *batch.Batch) protocol.Mass { return b.Deliveries()[1].Delivered }
	require.Equal(t, "Quartz", got.Batch.Lines[1].Material)
	assert.Less(t, quartz(got.Batch), quartz(before), "58.50 g in the tub are 55.85 g now")
}
