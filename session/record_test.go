package session

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/sheet"
)

var benchScales = []sheet.Scale{
	{Name: "bench", Port: "/dev/ttyUSB0", Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram},
	{Name: "fine", Port: "/dev/ttyUSB1", Step: protocol.Gram / 100, Max: 200 * protocol.Gram}}

// past is an invented workshop that has weighed for years: a bench whose
// journal does not wait for the disk, and a clock moved by hand.
type past struct {
	tb  testing.TB
	b   *Bench
	j   *journal.Journal
	now time.Time
}

type unsynced struct{ journal.File }

func (unsynced) Sync() error { return nil }

func newPast(tb testing.TB, dir string) *past {
	p := &past{tb: tb, now: time.Date(2021, 3, 1, 8, 0, 0, 0, time.FixedZone("", 3600))}
	var err error
	p.j, _, err = journal.Open(dir, journal.Options{At: p.now, Wrap: func(f journal.File) journal.File { return unsynced{f} }})
	require.NoError(tb, err)
	p.b = New(Config{Recorder: Into(p.j), Scales: benchScales, Now: func() time.Time { return p.now }})
	return p
}

// input is Bench.input without the views, which nobody watches.
func (p *past) input(in Input) {
	next, facts, err := Next(p.b.s, in)
	require.NoError(p.tb, err)
	require.NoError(p.tb, p.b.commit(next, facts))
}

// rests lets a scale show a weight at rest.
func (p *past) rests(on string, m protocol.Mass) { p.shows(on, m, true) }

func (p *past) shows(on string, m protocol.Mass, settled bool) {
	p.now = p.now.Add(9123456789 * time.Nanosecond)
	step := p.b.s.pan(on).Step
	d, err := protocol.ParseDecimal(m.Grams(step.Places()))
	require.NoError(p.tb, err)
	p.input(Input{At: p.now, Update: &scale.Update{Scale: on, At: p.now, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: step, Settled: settled,
		Reading: protocol.Reading{Status: protocol.OK, Value: d, Unit: protocol.UnitGram, Stable: protocol.Yes, Raw: fmt.Appendf(nil, "ST,GS,%10s g", d)}}})
}

// begin opens the batch of a morning.
func (p *past) begin() {
	p.now = p.now.Add(5*time.Hour + 17*time.Minute)
	_, err := p.b.start(PlanRequest{Recipe: recipeText, Base: "750g", By: "Mara"})
	require.NoError(p.tb, err)
	p.input(Input{At: p.now, Command: &Command{Word: "yes", Rest: "Mara"}})
}

// weigh mixes up to so many steps of the open batch.
func (p *past) weigh(steps int) {
	for range steps {
		i, pan := p.b.s.current()
		if i < 0 {
			return
		}
		on, step := pan.Name, pan.Step
		if pan.On == Empty {
			p.rests(on, 1184*step)
		}
		p.rests(on, 1185*step+p.b.s.aim(i).Target/step*step)
		p.shows(on, 0, false)
		p.rests(on, 1185*step)
	}
}

// until mixes batches up to that many lines and leaves the last one open.
func (p *past) until(lines uint64) {
	for n := 0; ; n++ {
		p.begin()
		if p.j.Len()+40 > lines {
			break
		}
		if n%4 == 3 {
			p.weigh(2)
			p.input(Input{At: p.now, Command: &Command{Word: "note", Rest: "the whiting was damp"}})
			at := p.now
			p.input(Input{At: at, Update: &scale.Update{Scale: "bench", At: at, Link: scale.Lost, Why: "the cable is out"}})
			p.rests("bench", 1185*protocol.Gram/10) // as before: the tare is proven
		}
		p.weigh(20)
	}
	p.weigh(5)
	for p.j.Len() < lines {
		p.input(Input{At: p.now, Command: &Command{Word: "note", Rest: "the whiting was damp"}})
	}
}

func (p *past) close() { require.NoError(p.tb, p.j.Close()) }

// standing is what a bench stands on after a start from the journal in dir.
func standing(t *testing.T, dir string) (State, map[string]bool) {
	t.Helper()
	j, past, _, err := Open(dir)
	require.NoError(t, err)
	b := New(Config{Recorder: Into(j), Past: past, Scales: benchScales})
	require.NoError(t, j.Close())
	return b.s, b.marks
}

// A start that decodes only what matters stands where one that decodes every
// line would stand, wherever the journal ends.
func TestOpenStandsWhereAllFactsLead(t *testing.T) {
	dir := t.TempDir()
	p := newPast(t, dir)
	p.until(170)
	p.close()
	file, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	all, marks, n := NewState(benchScales), map[string]bool{}, 0
	for line := range bytes.Lines(file) {
		f, _, err := fact.Decode(line)
		require.NoError(t, err)
		all = all.Apply(f)
		marks[f.Batch] = true
		n += len(line)
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, journal.Name), file[:n], 0o600))
		got, gotMarks := standing(t, dir)
		require.Equal(t, all.Batch, got.Batch, "after line %d", f.Seq)
		require.Equal(t, all.Seq, got.Seq)
		require.Equal(t, marks, gotMarks)
	}
	require.Greater(t, len(marks), 5)
}

// A line that is whole, and says nothing that a bench understands, stops the
// start where the bench would rest on it; in a batch that was closed it waits
// for the one who asks for the book.
func TestOpenFindsWhatItCannotUnderstand(t *testing.T) {
	bad := json.RawMessage(`{"material":"Quartz","delivered":"a handful"}`)
	dir := t.TempDir()
	p := newPast(t, dir)
	p.begin()
	mark := p.b.s.Batch.Mark
	_, err := p.j.Append(p.now, "portion", mark, "Mara", bad)
	require.NoError(t, err)
	p.close()
	_, _, _, err = Open(dir)
	require.ErrorIs(t, err, fact.ErrFact)
	require.ErrorContains(t, err, "journal line 3")
	_, _, _, err = Open(dir)
	require.NotErrorIs(t, err, journal.ErrLocked, "the journal was given back")

	dir = t.TempDir()
	p = newPast(t, dir)
	p.begin()
	p.weigh(20)
	_, err = p.j.Append(p.now, "portion", p.b.s.Batch.Mark, "Mara", bad)
	require.NoError(t, err)
	line := p.j.Len()
	p.b.s.Seq = line
	p.begin()
	next := p.b.s.Batch
	p.close()
	got, _ := standing(t, dir)
	require.Equal(t, next, got.Batch)
	_, err = journal.Read(dir, func(r journal.Record) error { // as the book does
		_, _, err := fact.Decode(r.Line)
		return err
	})
	require.ErrorIs(t, err, fact.ErrFact)
	require.ErrorContains(t, err, fmt.Sprintf("line %d", line))
}

// Damage anywhere stops the start, and what stands before it can be shown.
func TestOpenRefusesDamageInABatchLongClosed(t *testing.T) {
	dir := t.TempDir()
	p := newPast(t, dir)
	p.until(100)
	p.close()
	path := filepath.Join(dir, journal.Name)
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	bad := bytes.Replace(file, []byte(`"delivered":{"g":"180.0"}`), []byte(`"delivered":{"g":"181.0"}`), 1)
	require.NotEqual(t, file, bad)
	require.NoError(t, os.WriteFile(path, bad, 0o600))
	j, past, rep, err := Open(dir)
	require.ErrorIs(t, err, journal.ErrDamaged)
	require.Nil(t, j)
	require.Less(t, rep.Lines, uint64(30))
	require.Equal(t, past.Seq, rep.Lines)
	require.Len(t, past.Facts, int(rep.Lines), "they are all of the first batch")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, bad, after)
}

// BenchmarkReady is the start of the bench after a power cut, up to the first
// view, with years of work in the journal: 100 000 lines, 59 MB.
func BenchmarkReady(b *testing.B) {
	dir := b.TempDir()
	p := newPast(b, dir)
	p.until(100_000)
	want := p.b.s.Batch
	p.close()
	b.ReportAllocs()
	for b.Loop() {
		j, past, rep, err := Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		got := New(Config{Recorder: Into(j), Past: past, Scales: benchScales})
		view := *got.Watch().b.latest.Load()
		b.SetBytes(rep.Bytes)
		b.StopTimer()
		require.NotEmpty(b, view)
		require.Equal(b, want, got.s.Batch)
		require.NoError(b, j.Close())
		b.StartTimer()
	}
}
