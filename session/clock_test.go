package session

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/journal"
	say "tared/session/sentence"
)

// TestClockJumps: small corrections are no jump, and neither is time that passes.
func TestClockJumps(t *testing.T) {
	for _, c := range []struct{ clock, passed, by time.Duration }{
		{250 * time.Millisecond, 250 * time.Millisecond, 0},
		{40 * time.Second, 40 * time.Second, 0},
		{1200 * time.Millisecond, 250 * time.Millisecond, 0},
		{3 * time.Second, 250 * time.Millisecond, 2750 * time.Millisecond},
		{8 * time.Hour, time.Second, 8*time.Hour - time.Second},
		{-time.Hour, time.Second, -time.Hour - time.Second},
	} {
		assert.Equal(t, c.by, jumped(c.clock, c.passed))
	}
}

// TestTheClockIsSet: the page says so, and the record of the batch in work does.
func TestTheClockIsSet(t *testing.T) {
	p := newPast(t, t.TempDir())
	defer p.close()
	p.b.clockSet(p.now, time.Hour)
	require.NotEmpty(t, p.b.view().Said)
	assert.Contains(t, p.b.view().Said[0].Says.String(), "jumped forward by 1 h")
	before := p.j.Len()
	assert.Zero(t, before, "it belongs to no batch")
	p.begin()
	before = p.j.Len()
	p.b.clockSet(p.now, -3*time.Hour)
	require.Equal(t, before+1, p.j.Len())
	var last string
	_, err := journal.Read(filepath.Dir(p.j.Path()), func(r journal.Record) error {
		f, _, err := fact.Decode(r.Line)
		last = say.Of(f)
		return err
	})
	require.NoError(t, err)
	assert.Contains(t, last, "went back by 3 h")
}
