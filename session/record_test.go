package session

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/plan"
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
	return newPastOn(tb, dir, func(f journal.File) journal.File { return unsynced{f} })
}

// newPastOn is newPast on a disk of its own.
func newPastOn(tb testing.TB, dir string, disk func(journal.File) journal.File) *past {
	p := &past{tb: tb, now: time.Date(2021, 3, 1, 8, 0, 0, 0, time.FixedZone("", 3600))}
	var err error
	p.j, _, err = journal.Open(dir, journal.Options{At: p.now, Wrap: disk})
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

func (p *past) shows(on string, m protocol.Mass, settled bool) { p.input(p.line(on, m, settled)) }

// try lets a scale show a weight at rest to a bench that may refuse it.
func (p *past) try(on string, m protocol.Mass) error { return p.b.input(p.line(on, m, true)) }

func (p *past) line(on string, m protocol.Mass, settled bool) Input {
	p.now = p.now.Add(9123456789 * time.Nanosecond)
	step := p.b.s.pan(on).Step()
	d, err := protocol.ParseDecimal(m.Grams(step.Places()))
	require.NoError(p.tb, err)
	return Input{At: p.now, Update: &scale.Update{Scale: on, At: p.now, Link: scale.Up, HasReading: true, HasMass: true, Mass: m, Step: step, Settled: settled,
		Reading: protocol.Reading{Status: protocol.OK, Value: d, Unit: protocol.UnitGram, Stable: protocol.Yes, Raw: fmt.Appendf(nil, "ST,GS,%10s g", d)}}}
}

// begin opens the batch of a morning.
func (p *past) begin() {
	p.now = p.now.Add(5*time.Hour + 17*time.Minute)
	_, err := p.b.start(plan.Request{Recipe: recipeText, Base: "750g", By: "Mara"})
	require.NoError(p.tb, err)
	p.input(Input{At: p.now, Command: &Command{Word: "yes", Rest: "Mara"}})
}

// weigh mixes up to so many steps of the open batch.
func (p *past) weigh(steps int) {
	for range steps {
		on, back := p.lift()
		if on == "" {
			return
		}
		p.rests(on, back)
	}
}

// lift pours the next step and lifts the container: when that scale comes to rest
// at back, it is taken.
func (p *past) lift() (on string, back protocol.Mass) {
	i, q := p.b.s.current()
	if i < 0 {
		return "", 0
	}
	step := q.Step()
	if q.On() == pan.Empty {
		p.rests(q.Name(), 1184*step)
	}
	p.rests(q.Name(), 1185*step+p.b.s.aim(i).Target/step*step)
	p.shows(q.Name(), 0, false)
	return q.Name(), 1185 * step
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
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	b := New(Config{Recorder: Into(j), Past: past, Scales: benchScales})
	require.NoError(t, j.Close())
	return b.s, b.workshop.Marks
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
	_, _, _, err = open(dir, time.Time{})
	require.ErrorIs(t, err, fact.ErrFact)
	require.ErrorContains(t, err, "journal line 3")
	_, _, _, err = open(dir, time.Time{})
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
	j, past, rep, err := open(dir, time.Time{})
	require.ErrorIs(t, err, journal.ErrDamaged)
	require.Nil(t, j)
	require.Less(t, rep.Lines, uint64(30))
	require.Equal(t, past.Seq, rep.Lines)
	require.Len(t, past.Facts, int(rep.Lines), "they are all of the first batch")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, bad, after)
}

// failingDisk is a disk that fails as it is told to.
type failingDisk struct {
	counted
	room    int   // bytes of the next write that get onto the disk; negative: all
	noWrite error // what that write says
	noSync  error
}

func (d *failingDisk) Write(b []byte) (int, error) {
	if d.room < 0 || d.room >= len(b) {
		return d.counted.Write(b)
	}
	d.writes++
	n, err := d.File.Write(b[:d.room])
	if err == nil {
		err = d.noWrite
	}
	return n, err
}

func (d *failingDisk) Sync() error {
	if d.noSync != nil {
		d.syncs++
		return d.noSync
	}
	d.syncs++
	return nil // what waits for the disk is tried elsewhere
}

// A take that does not get onto the disk is not shown, whatever the disk says and
// however much of the line it kept; nothing is tried again on that journal; and
// after a new start on a disk that works the batch goes on, with the take there
// once.
func TestATakeThatTheDiskRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		room   int
		write  error
		sync   error
		kept   bool // the whole line is there, though nobody may say so before the next start
		expect string
	}{
		"full at once":           {room: 0, write: syscall.ENOSPC, expect: "no space left on device"},
		"full in mid-line":       {room: 200, write: syscall.ENOSPC, expect: "no space left on device"},
		"full before the end":    {room: 1 << 20, write: syscall.ENOSPC, sync: syscall.ENOSPC, kept: true, expect: "no space left on device"},
		"a write cut short":      {room: 300, expect: "short write"},
		"a limit on the file":    {room: 17, write: syscall.EFBIG, expect: "file too large"},
		"read-only all at once":  {room: 0, write: syscall.EROFS, expect: "read-only file system"},
		"a sync that fails":      {room: -1, sync: syscall.EIO, kept: true, expect: "input/output error"},
		"a disk over its quota":  {room: -1, sync: syscall.EDQUOT, kept: true, expect: "disk quota exceeded"},
		"a disk that was pulled": {room: 0, write: syscall.EIO, expect: "input/output error"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			disk := &failingDisk{room: -1}
			p := newPastOn(t, dir, func(f journal.File) journal.File { disk.File = f; return disk })
			p.begin()
			p.weigh(1)
			on, back := p.lift()
			before := p.b.s.Batch
			was := p.b.view()
			shown := len(before.Takes)
			require.Equal(t, 1, shown)
			stands := p.j.Len()

			disk.room, disk.noWrite, disk.noSync = c.room, c.write, c.sync
			writes, syncs := disk.writes, disk.syncs
			err := p.try(on, back)
			require.ErrorContains(t, err, c.expect)
			require.ErrorIs(t, err, journal.ErrBroken)
			require.LessOrEqual(t, disk.writes-writes, 1)
			require.LessOrEqual(t, disk.syncs-syncs, 1)
			now := p.b.view()
			require.False(t, now.Recording.OK)
			require.Contains(t, now.Recording.Why.String(), c.expect)
			require.Equal(t, was.Batch, now.Batch, "what is not on the disk is not shown as taken")
			require.Equal(t, before, p.b.s.Batch)

			// Room again; but nothing is tried again here, by hands or by words.
			disk.room, disk.noWrite, disk.noSync = -1, nil, nil
			writes, syncs = disk.writes, disk.syncs
			for range 3 {
				require.NoError(t, p.try(on, back))
				require.Equal(t, "blind", p.b.view().Now.State, "hands are not guided, and nothing that they do counts")
				require.ErrorIs(t, p.b.input(Input{At: p.now, Command: &Command{Word: "skip"}}), ErrRefused)
			}
			require.Equal(t, writes, disk.writes)
			require.Equal(t, syncs, disk.syncs)
			require.False(t, p.b.view().Recording.OK)
			p.close()

			// A new start takes up what is on the disk.
			j, past, rep, err := open(dir, time.Time{})
			require.NoError(t, err)
			lines := stands
			if c.kept {
				lines++
			}
			require.Equal(t, lines, rep.Lines)
			require.Equal(t, 0 < c.room && c.room < 1000, rep.Torn != nil)
			p.b = New(Config{Recorder: Into(j), Past: past, Scales: benchScales, Now: func() time.Time { return p.now }})
			p.j = j
			require.True(t, p.b.view().Recording.OK)
			if !c.kept {
				require.Equal(t, before, p.b.s.Batch)
				p.rests(on, back)
			}
			require.Len(t, p.b.s.Batch.Takes, 2)
			require.Equal(t, g("180"), p.b.s.Batch.Takes[1].Delivered)
			p.close()
			portions := 0
			_, err = journal.Read(dir, func(r journal.Record) error {
				if r.Kind == "portion" {
					portions++
				}
				return nil
			})
			require.NoError(t, err)
			require.Equal(t, 2, portions, "each portion is there once")
		})
	}
}

// BenchmarkReady is the start of the bench after a power cut, up to the first
// view, with years of work in the journal: 100 000 lines, 59 MB.
//
// 26 November 2026, two processors of a virtual machine (AMD EPYC, with SHA
// instructions), Linux, Go 1.26, file in the page cache, little else running: 0.14 to
// 0.19 s and 2.5 MB. Before the chain was checked in stretches and only the last batch
// decoded it was 4 s, beside others, and 450 MB.
func BenchmarkReady(b *testing.B) {
	dir := b.TempDir()
	p := newPast(b, dir)
	p.until(100_000)
	want := p.b.s.Batch
	p.close()
	b.ReportAllocs()
	for b.Loop() {
		j, past, rep, err := open(dir, p.now)
		if err != nil {
			b.Fatal(err)
		}
		got := New(Config{Recorder: Into(j), Past: past, Scales: benchScales})
		view := got.Watch(nil).Latest()
		b.SetBytes(rep.Bytes)
		b.StopTimer()
		require.NotEmpty(b, view)
		require.Equal(b, want, got.s.Batch)
		require.NoError(b, j.Close())
		b.StartTimer()
	}
}

// counted is a disk on which the writes and syncs are counted.
type counted struct {
	journal.File
	writes, syncs, bytes int
}

func (c *counted) Write(b []byte) (int, error) {
	c.writes++
	c.bytes = len(b)
	return c.File.Write(b)
}

func (c *counted) Sync() error {
	c.syncs++
	return c.File.Sync()
}

// BenchmarkTake is a take until it is durable: from the line of the scale that
// takes it, through the machine, until the record is on the disk. By turns with it
// goes a bare write and sync of as many bytes into a file that was opened in the
// same way in the same directory. It reports the median of each and how many
// times the bare one a take lasts. What is measured is the disk of the directory
// for temporary files, which TMPDIR names; in memory nothing is durable.
//
// 26 November 2026, the machine of BenchmarkReady, ext4 on a virtual disk: 0.41 ms
// against 0.33 ms bare, 1.25 times; beside five others 1.3 to 1.4 times. The journal
// alone takes 1.08 times (BenchmarkAppend of package journal).
func BenchmarkTake(b *testing.B) {
	disk, bare := &counted{}, &counted{}
	dir := b.TempDir()
	p := newPastOn(b, filepath.Join(dir, "ours"), func(f journal.File) journal.File { disk.File = f; return disk })
	defer p.close()
	q := newPastOn(b, filepath.Join(dir, "bare"), func(f journal.File) journal.File { bare.File = f; return bare })
	defer q.close()
	var ours, theirs []time.Duration
	filler := bytes.Repeat([]byte{'x'}, 1<<20)
	for b.Loop() {
		on, back := p.lift()
		for on == "" {
			p.begin()
			on, back = p.lift()
		}
		disk.writes, disk.syncs = 0, 0
		begin := time.Now()
		p.rests(on, back)
		ours = append(ours, time.Since(begin))
		if disk.writes != 1 || disk.syncs != 1 {
			b.Fatalf("a take is %d writes and %d syncs", disk.writes, disk.syncs)
		}
		begin = time.Now()
		if _, err := bare.File.Write(filler[:disk.bytes]); err != nil {
			b.Fatal(err)
		}
		if err := bare.File.Sync(); err != nil {
			b.Fatal(err)
		}
		theirs = append(theirs, time.Since(begin))
	}
	slices.Sort(ours)
	slices.Sort(theirs)
	o, w := ours[len(ours)/2], theirs[len(theirs)/2]
	b.ReportMetric(float64(o.Microseconds()), "take-µs")
	b.ReportMetric(float64(w.Microseconds()), "bare-µs")
	b.ReportMetric(float64(o)/float64(w), "times-bare")
	b.ReportMetric(0, "ns/op")
}
