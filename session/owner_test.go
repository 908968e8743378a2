package session

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/fact"
	"tared/session/journal"
	labels "tared/session/label"
	"tared/session/signer"
)

// benchDay is what a bench did on a day.
type benchDay struct {
	begins *fact.Began // what it had to say first
	warned error
	lot    string
	batch  string
	tiles  []string
	lines  []fact.Fact // of the whole journal
}

// works starts a bench that keeps the journal in dir, lets it take a lot and mix a batch,
// and stops it.
func works(t *testing.T, dir, sign string) (d benchDay) {
	t.Helper()
	at := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)
	j, known, _, err := Open(dir, dir+".witness", at)
	require.NoError(t, err)
	known.Own(Owner{Dir: dir, Sign: sign, Version: "v1", Warn: func(err error) { d.warned = err }})
	d.begins = known.Begin
	p := &past{tb: t, j: j, now: at}
	p.b = New(Config{Recorder: Into(j), Past: known, Scales: benchScales, Now: func() time.Time { return p.now }})
	p.b.resume(fact.Resumed{Restart: true})
	got, err := p.b.keep(lot("Quartz", "1kg"))
	require.NoError(t, err)
	d.lot = got.Lot
	p.begin()
	p.weigh(20)
	require.False(t, p.b.s.open())
	require.NoError(t, j.Close())
	_, err = journal.Read(dir, func(r journal.Record) error {
		f, _, err := fact.Decode(bytes.Clone(r.Line))
		d.lines = append(d.lines, f)
		if r.Kind == "planned" {
			d.batch = f.Batch
		}
		return err
	})
	require.NoError(t, err)
	d.tiles = labels.Marks(signer.OfMark(d.batch), 1, 6)
	return d
}

// Two benches on one day give no mark, no tile and no lot twice; each names itself first,
// and goes on as the same one.
func TestTwoBenchesOnOneDay(t *testing.T) {
	top := t.TempDir()
	a, b := works(t, filepath.Join(top, "a"), ""), works(t, filepath.Join(top, "b"), "K")
	require.NoError(t, a.warned)
	require.NoError(t, b.warned)
	assert.Equal(t, "K", b.begins.Sign)
	assert.Equal(t, "K261201a", b.batch)
	assert.Equal(t, "KL1", b.lot)
	assert.Equal(t, "K-AA-A", b.tiles[0])
	for _, d := range []benchDay{a, b} {
		first, ok := d.lines[0].Body.(fact.Began)
		require.True(t, ok)
		id, err := signer.ID(first.Key)
		require.NoError(t, err)
		assert.Equal(t, first.Bench, id)
		assert.Equal(t, []any{uint64(1), uint64(fact.Format), "v1"}, []any{first.Epoch, first.Format, first.Version})
		assert.True(t, strings.HasPrefix(d.batch, first.Sign) && strings.HasPrefix(d.lot, first.Sign))
		_, err = signer.ReadSign(first.Sign)
		require.NoError(t, err)
	}
	assert.NotEqual(t, a.begins.Bench, b.begins.Bench)
	assert.NotEqual(t, a.batch, b.batch)
	assert.NotEqual(t, a.lot, b.lot)
	for _, tile := range a.tiles {
		assert.NotContains(t, b.tiles, tile)
	}

	again := works(t, filepath.Join(top, "b"), "")
	require.NoError(t, again.warned)
	assert.Nil(t, again.begins, "it goes on")
	assert.Equal(t, "K261201c", again.batch)
	assert.Equal(t, "KL2", again.lot)
}

// The line that closes a batch is signed by a line of its own, once, also where the power
// failed between the two.
func TestWhatClosesABatchIsSigned(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	d := works(t, dir, "")
	k := len(d.lines) - 2
	closing, ok := d.lines[k].Body.(fact.Finished)
	require.True(t, ok, "%+v", closing)
	signed, ok := d.lines[k+1].Body.(fact.Signed)
	require.True(t, ok)
	path := filepath.Join(dir, journal.Name)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := slices.Collect(bytes.Lines(b))
	assert.Equal(t, d.lines[k].Seq, signed.Of)
	assert.Equal(t, d.batch, d.lines[k+1].Batch)
	assert.True(t, signer.Verify(d.begins.Key, lines[k], signed.Signature))

	require.NoError(t, os.WriteFile(path, bytes.Join(lines[:k+1], nil), 0o640))
	require.NoError(t, os.Remove(dir+".witness")) // as if that line was never there
	again := works(t, dir, "")
	var of []uint64
	for _, f := range again.lines {
		if s, ok := f.Body.(fact.Signed); ok {
			of = append(of, s.Of)
		}
	}
	require.Len(t, of, 2)
	assert.Equal(t, signed.Of, of[0])
}

// A journal from before there were keys goes on as it is: its next line names the bench, and
// what was closed before that is not vouched for.
func TestAnOldJournalGetsItsBench(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	p := newPast(t, dir)
	p.begin()
	p.weigh(20)
	p.close()
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	j, _, _, err := Open(dir, dir+".witness", time.Now()) // this place knows it
	require.NoError(t, err)
	r, err := j.Append(time.Now(), "began", "", "tared", fact.Began{Epoch: 1, Format: 1})
	require.NoError(t, err)
	require.NoError(t, j.Close())
	d := works(t, dir, "")
	require.NoError(t, d.warned)
	require.Equal(t, fact.BeganNamed, d.begins.Why)
	assert.Equal(t, uint64(2), d.begins.Epoch)
	assert.Equal(t, r.Seq, d.begins.Lines)
	assert.Equal(t, r.Hash.String(), d.begins.Head)
	assert.Equal(t, "began", d.lines[rep.Lines+1].Body.Kind())
	n := 0
	for _, f := range d.lines {
		if _, ok := f.Body.(fact.Signed); ok {
			n++
		}
	}
	assert.Equal(t, 1, n)
}

// Whatever is wrong with the key or the sign, it is said, and the bench goes on weighing.
func TestTheBenchGoesOnWithoutItsKey(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "data")
	first := works(t, dir, "K")
	key := filepath.Join(dir, signer.Name)
	good, err := os.ReadFile(key)
	require.NoError(t, err)

	t.Log("it is gone: there is another, and the record says so")
	require.NoError(t, os.Remove(key))
	d := works(t, dir, "")
	require.NoError(t, d.warned)
	require.Equal(t, fact.BeganKey, d.begins.Why)
	assert.NotEqual(t, first.begins.Bench, d.begins.Bench)
	assert.NotEqual(t, "K", d.begins.Sign, "that is the sign of the other key")

	t.Log("that of another bench is in its place")
	require.NoError(t, os.WriteFile(key, good, 0o600))
	d = works(t, dir, "")
	require.ErrorContains(t, d.warned, "the key of another bench")
	assert.Nil(t, d.begins)
	assert.NotEqual(t, "signed", d.lines[len(d.lines)-1].Body.Kind())

	t.Log("it cannot be read")
	require.NoError(t, os.WriteFile(key, []byte("rubbish"), 0o600))
	d = works(t, dir, "")
	require.ErrorContains(t, d.warned, "not a private key")

	t.Log("a sign that is taken")
	require.NoError(t, os.Remove(key))
	d = works(t, dir, "K")
	require.ErrorContains(t, d.warned, "The sign K stands on what another bench made")

	t.Log("and one that is not")
	d = works(t, dir, "XY")
	require.NoError(t, d.warned)
	require.Equal(t, fact.BeganSign, d.begins.Why)
	assert.True(t, strings.HasPrefix(d.batch, "XY261201"))
	assert.Equal(t, "signed", d.lines[len(d.lines)-1].Body.Kind())
}

// A copied directory is another bench, which names what it goes on from.
func TestACopiedDirectoryIsAnotherBench(t *testing.T) {
	top := t.TempDir()
	dir, copied := filepath.Join(top, "one"), filepath.Join(top, "two")
	first := works(t, dir, "")
	require.NoError(t, os.CopyFS(copied, os.DirFS(dir)))
	require.NoError(t, os.Chmod(filepath.Join(copied, signer.Name), 0o600))
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	d := works(t, copied, "")
	require.NoError(t, d.warned)
	require.Equal(t, fact.BeganCopy, d.begins.Why)
	assert.Equal(t, rep.Head.String(), d.begins.Head)
	assert.NotEqual(t, first.begins.Bench, d.begins.Bench)
	assert.NotEqual(t, first.begins.Sign, d.begins.Sign)
	assert.NotEqual(t, works(t, dir, "").batch, d.batch, "neither gives what the other gives")
}
