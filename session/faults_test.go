package session

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/sim"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/sheet"
	"tared/session/text"
)

// platter is a disk behind the memory of a system. A program reads and writes the
// memory, a sync carries over what was written since, and a power cut leaves what
// was carried over. It fails when it is told to, and then as such things do: a sync
// that failed leaves the memory as it was and has it taken for written, so that no
// later sync writes it (Rebello et al., "Can Applications Recover from fsync
// Failures?", USENIX ATC 2020).
type platter struct {
	journal.File // the memory
	path         string
	rng          *rand.Rand

	there []byte // what a power cut leaves
	dirty []span // what the next sync carries over
	cut   int64  // and to what length it cuts before; negative: not at all

	fuse    int    // writes and syncs until it fails; negative: it does not
	how     string // one of howDisksFail
	forever bool
	why     error // of the failure; nil: none yet
	ops     int
}

type span struct{ from, to int64 }

// howDisksFail: a write that is cut short in words or in silence, one that fails at
// once, a sync that fails, and a program that is killed in the midst of either.
var howDisksFail = []string{"full", "short", "broken", "sync", "killed in a write", "killed in a sync"}

func newPlatter(dir string, rng *rand.Rand) *platter {
	return &platter{path: filepath.Join(dir, journal.Name), rng: rng, cut: -1, fuse: -1}
}

// wrap is for journal.Options.
func (p *platter) wrap(f journal.File) journal.File { p.File = f; return p }

// fails tells whether a write, or else a sync, goes wrong now.
func (p *platter) fails(write bool) bool {
	p.ops++
	if p.why != nil {
		return p.forever && (write == (p.how != "sync" && p.how != "killed in a sync"))
	}
	if write == (p.how == "sync" || p.how == "killed in a sync") {
		return false
	}
	p.fuse--
	return p.fuse == 0
}

func (p *platter) Write(b []byte) (int, error) {
	info, err := os.Stat(p.path)
	if err != nil {
		return 0, err
	}
	n := len(b)
	fails := p.fails(true)
	if fails {
		p.why = map[string]error{"full": syscall.ENOSPC, "short": io.ErrShortWrite, "broken": syscall.EIO}[p.how]
		switch {
		case p.how == "broken":
			n = 0
		case p.how == "short":
			n = p.rng.IntN(n)
		default:
			n = p.rng.IntN(n + 1)
		}
		if p.why == nil {
			p.why = errKilled
		}
	}
	n, err = p.File.Write(b[:n])
	p.dirty = append(p.dirty, span{info.Size(), info.Size() + int64(n)})
	if err == nil && fails && p.how != "short" {
		err = p.why
	}
	return n, err
}

var errKilled = errors.New("the program was killed")

func (p *platter) Renew(b []byte, off int64) error {
	if p.fails(true) {
		p.why = map[string]error{"full": syscall.ENOSPC, "short": io.ErrShortWrite, "broken": syscall.EIO}[p.how]
		if p.why == nil {
			p.why = errKilled
		}
		return p.why
	}
	p.dirty = append(p.dirty, span{off, off + int64(len(b))})
	return p.File.Renew(b, off)
}

func (p *platter) Truncate(size int64) error {
	p.cut = size
	for i := range p.dirty {
		p.dirty[i].to = min(p.dirty[i].to, size)
	}
	return p.File.Truncate(size)
}

func (p *platter) Sync() error {
	if p.fails(false) {
		if p.how == "killed in a sync" {
			p.why = errKilled
			return p.why
		}
		p.why = syscall.EIO
		p.carry(p.rng.IntN(3), p.rng)
		p.dirty, p.cut = nil, -1 // they are taken for written
		return p.why
	}
	p.carry(0, nil)
	p.dirty, p.cut = nil, -1
	return nil
}

// carry brings what is dirty onto the disk: 0 all of it, 1 nothing, 2 up to any byte.
func (p *platter) carry(much int, rng *rand.Rand) {
	if much == 1 {
		return
	}
	if p.cut >= 0 {
		p.there = p.there[:min(p.cut, int64(len(p.there)))]
	}
	total := int64(0)
	for _, s := range p.dirty {
		total += max(s.to-s.from, 0)
	}
	if much == 2 && total > 0 {
		total = rng.Int64N(total)
	}
	for _, s := range p.dirty {
		n := max(min(s.to-s.from, total), 0)
		total -= n
		b := make([]byte, n)
		if _, err := p.File.ReadAt(b, s.from); err != nil {
			panic(err)
		}
		if gap := s.from + n - int64(len(p.there)); gap > 0 && n > 0 {
			p.there = append(p.there, make([]byte, gap)...) // what was never carried over is a hole
		}
		copy(p.there[s.from:], b)
	}
}

// power cuts the power: the memory is gone. No program has the file open then.
func (p *platter) power(t testing.TB) {
	f, err := os.Open(p.path)
	require.NoError(t, err)
	p.File = readOnly{f}
	p.carry(p.rng.IntN(3), p.rng)
	require.NoError(t, f.Close())
	p.dirty, p.cut = nil, -1
	require.NoError(t, os.WriteFile(p.path, p.there, 0o600))
}

type readOnly struct{ *os.File }

func (readOnly) Renew([]byte, int64) error { panic("it is read only") }

// mend makes it a disk that works until the fuse is lit again.
func (p *platter) mend() { p.why, p.forever, p.fuse = nil, false, -1 }

// unlucky is a workshop whose disk fails again and again.
type unlucky struct {
	*truth
	disk *platter
	dir  string
	j    *journal.Journal
	b    *Bench

	lines [][]byte    // lines that the potter was told of, or that the bench rests on
	news  []fact.Fact // of the last input
	tried []fact.Fact // what was to be recorded last

	sum      map[string]protocol.Mass // of the portions that the potter was told of
	lit      int                      // how many more times the disk is to fail
	until    time.Time                // somebody starts the program again; zero: it runs
	failures map[string]int
	starts   int
}

// Append is session.Recorder.
func (u *unlucky) Append(facts []fact.Fact) ([][]byte, error) {
	u.tried = facts
	return Into(u.j).Append(facts)
}

func (u *unlucky) told(lines [][]byte) {
	for _, l := range lines {
		l = bytes.Clone(l)
		u.lines = append(u.lines, l)
		f, _, err := fact.Decode(l)
		require.NoError(u.t, err)
		u.news = append(u.news, f)
		u.add(f)
	}
	u.synced()
}

func (u *unlucky) add(f fact.Fact) {
	switch v := f.Body.(type) {
	case fact.Portion:
		u.sum[v.Material] += v.Delivered
	case fact.Amended:
		u.sum[v.Material] += v.Is - v.Was
	}
}

// synced holds that all that the bench rests on would outlive a power cut.
func (u *unlucky) synced() {
	all := bytes.Join(u.lines, nil)
	require.True(u.t, bytes.HasPrefix(u.disk.there, all), "the potter is told of what is not on the disk\n%s", u.story())
}

// seen holds that a page shows as taken what was recorded, and nothing else.
func (u *unlucky) seen(v View) {
	if v.Batch == nil {
		return
	}
	for _, s := range v.Batch.Steps {
		if g(s.Delivered) != u.sum[s.Material] {
			require.Equal(u.t, u.sum[s.Material].String(), g(s.Delivered).String(), "%s\n%s", s.Material, u.story())
		}
	}
}

func (u *unlucky) story() string { return strings.Join(u.said, "\n") }

// start starts the program, as often as it takes.
func (u *unlucky) start() {
	for {
		u.starts++
		j, past, _, err := openOn(u.dir, journal.Options{At: u.now, Wrap: u.disk.wrap})
		if err != nil {
			require.NotErrorIs(u.t, err, journal.ErrDamaged, "%s", u.story())
			require.ErrorIs(u.t, err, u.disk.why, "it says why")
			u.note("it does not start: %v", err)
			if u.rng.IntN(2) == 0 {
				u.disk.power(u.t)
			}
			u.disk.mend()
			continue
		}
		u.j = j
		u.b = New(Config{Recorder: u, Past: past, Scales: []sheet.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}, {Name: "fine", Step: g("0.01"), Max: g("300")}},
			Now: func() time.Time { return u.now }, OnFacts: u.told, OnView: u.seen})
		u.whole()
		u.b.resume(fact.Resumed{Restart: true})
		return
	}
}

// openOn is Open with the options of a test.
func openOn(dir string, o journal.Options) (*journal.Journal, Past, journal.Report, error) {
	return openWith(dir, time.Time{}, o)
}

// whole holds after a start that nothing is lost, doubled or changed of what was
// said, and that what is there besides was to be recorded when the disk failed.
func (u *unlucky) whole() {
	var now [][]byte
	_, err := journal.Read(u.dir, func(r journal.Record) error { // the chain holds
		now = append(now, bytes.Clone(r.Line))
		return nil
	})
	require.NoError(u.t, err, "%s", u.story())
	require.GreaterOrEqual(u.t, len(now), len(u.lines), "lines are lost that were said to be there\n%s", u.story())
	for i, l := range u.lines {
		require.Equal(u.t, string(l), string(now[i]), "line %d was changed", i+1)
	}
	var late []fact.Fact
	for i, l := range now[len(u.lines):] {
		f, _, err := fact.Decode(l)
		require.NoError(u.t, err)
		require.Less(u.t, i, len(u.tried), "a line that nobody wanted\n%s", u.story())
		require.Equal(u.t, u.tried[i].Seq, f.Seq)
		require.Equal(u.t, u.tried[i].Body.Kind(), f.Body.Kind())
		late = append(late, f)
		u.add(f)
		u.note("it is there all the same: %s", f.Body.Kind())
	}
	u.lines, u.tried = now, nil
	u.synced()
	u.sets = map[string]*scale.Settler{}
	u.s, u.fresh = u.b.s, false
	u.recorded(late)
	u.seen(*u.b.view())
	require.True(u.t, u.b.view().Recording.OK)
}

// input takes one input to the bench.
func (u *unlucky) take(in Input) (State, []fact.Fact, error) {
	u.news = nil
	if u.b.broken != "" && u.disk.why == errKilled {
		return u.b.s, nil, text.Refuse("command.no-batch")
	}
	err := u.b.input(in)
	if err == nil {
		return u.b.s, u.news, nil
	}
	return u.b.s, nil, err
}

// look is what happens ten times a second.
func (u *unlucky) look(*truth) {
	switch {
	case u.b.broken == "" && u.disk.fuse < 0 && u.lit > 0:
		u.lit--
		u.disk.how = howDisksFail[u.rng.IntN(len(howDisksFail))]
		u.disk.fuse, u.disk.forever = 1+u.rng.IntN(9), u.rng.IntN(2) == 0
		u.note("the disk will fail: %s", u.disk.how)
	case u.b.broken != "" && u.until.IsZero():
		u.failures[u.disk.how]++
		u.until = u.now.Add(time.Duration(u.rng.Int64N(int64(8 * time.Second))))
		if u.disk.why != errKilled {
			u.stopped()
		}
	case u.b.broken != "" && u.now.After(u.until):
		require.NoError(u.t, u.j.Close())
		if u.rng.IntN(2) == 0 {
			u.note("the power fails")
			u.disk.power(u.t)
		}
		if !u.disk.forever || u.rng.IntN(2) == 0 {
			u.disk.mend()
		}
		u.note("started again")
		u.start()
		u.s, u.fresh, u.until = u.b.s, false, time.Time{}
	case u.b.broken == "" && u.disk.fuse < 0 && u.chance(20):
		// Out of the blue: so it shows whether what the start believed is there.
		u.note("killed, and the power fails")
		require.NoError(u.t, u.j.Close())
		u.disk.power(u.t)
		u.start()
		u.s, u.fresh = u.b.s, false
	}
}

// stopped holds that the bench says in words that nothing is recorded any more, and
// takes nothing more.
func (u *unlucky) stopped() {
	v := u.b.view()
	require.False(u.t, v.Recording.OK)
	require.Contains(u.t, v.Recording.Why.String(), "Nothing is recorded any more")
	require.Contains(u.t, v.Recording.Why.String(), u.disk.why.Error())
	ops, before := u.disk.ops, u.b.s.Batch
	for _, word := range []string{"note is it full", "skip", "undo", "abandon no more"} {
		c := ParseCommand(word)
		require.ErrorIs(u.t, u.b.input(Input{At: u.now, Command: &c}), ErrRefused, word)
	}
	require.Equal(u.t, ops, u.disk.ops, "nothing is tried again")
	require.Equal(u.t, before, u.b.s.Batch)
}

// A disk that fails in the midst of a batch, in a write or in a sync, once or for
// good, and a power cut or none behind it: what the potter was told of is there
// after it, once and as it was; the bench says that it stopped; and the batch is
// finished after all, with what really went into the bucket.
//
// TARED_FAULTS=1000 does it in so many batches.
func TestTheDiskFailsInMidBatch(t *testing.T) {
	batches := 4 * batchesEach
	if n, err := strconv.Atoi(os.Getenv("TARED_FAULTS")); err == nil {
		batches = n
	}
	failures, starts := map[string]int{}, 0
	const groups = 4
	done := make(chan *unlucky, batches)
	t.Run("batches", func(t *testing.T) {
		for k := range groups {
			t.Run(fmt.Sprint(k), func(t *testing.T) {
				t.Parallel()
				for seed := uint64(k); seed < uint64(batches); seed += groups {
					u := newUnlucky(t, seed+1, trouble{})
					tb := trouble{do: u.look}
					finished := u.run(tb)
					if !finished || len(u.wrong) > 0 {
						t.Errorf("seed %d: finished %v: %s", seed+1, finished, strings.Join(u.wrong, "; "))
						if dir := os.Getenv("TARED_TRACES"); dir != "" {
							assert.NoError(t, os.WriteFile(fmt.Sprintf("%s/disk-%d.txt", dir, seed+1), []byte(u.story()), 0o600))
						}
					}
					require.NoError(t, u.j.Close())
					u.starts--
					done <- u
				}
			})
		}
	})
	close(done)
	for u := range done {
		starts += u.starts
		for how, n := range u.failures {
			failures[how] += n
		}
	}
	t.Logf("%d batches, %d new starts, failures %v", batches, starts, failures)
	assert.Greater(t, starts, batches)
}

func newUnlucky(t testing.TB, seed uint64, tb trouble) *unlucky {
	tr := newTruth(t, seed, tb)
	u := &unlucky{truth: tr, dir: t.TempDir(), sum: map[string]protocol.Mass{}, failures: map[string]int{}, lit: 1 + tr.rng.IntN(4)}
	u.disk = newPlatter(u.dir, tr.rng)
	j, _, err := journal.Open(u.dir, journal.Options{At: u.now, Wrap: u.disk.wrap})
	require.NoError(t, err)
	lines, err := Into(j).Append(tr.facts)
	require.NoError(t, err)
	u.lines = append(u.lines, bytes.Clone(lines[0]))
	require.NoError(t, j.Close())
	u.start()
	u.s = u.b.s
	u.bench = u.take
	u.eyes = func(g sim.Guidance) sim.Guidance {
		if u.b.broken != "" {
			return sim.Guidance{State: "dark"}
		}
		return g
	}
	return u
}
