package session

import (
	"context"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/plan"
	"tared/session/sheet"
)

// recipeText is invented: a wall tile glaze for a restored bath house.
const recipeText = `# Plunge pool green, invented
Nepheline syenite 41
Quartz 24
Whiting 17
Ball clay 12
Zinc oxide 6
+ Tin oxide 4
+ Copper carbonate 1.2
`

func benchOn(t *testing.T, dir string) (*Bench, func()) {
	t.Helper()
	j, past, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	b := New(Config{Recorder: Into(j), Past: past, Scales: []sheet.Scale{
		{Name: "bench", Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram},
		{Name: "fine", Step: protocol.Gram / 100, Max: 200 * protocol.Gram}}})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- b.Run(ctx) }()
	return b, func() {
		cancel()
		require.NoError(t, <-done)
		require.NoError(t, j.Close())
	}
}

func view(t *testing.T, w *Watcher) View {
	t.Helper()
	var v View
	require.NoError(t, json.Unmarshal(w.Latest(), &v))
	return v
}

func TestBenchStartsRecordsAndComesBack(t *testing.T) {
	dir := t.TempDir()
	ctx := context.Background()
	b, stop := benchOn(t, dir)
	_, err := b.Start(ctx, plan.Request{Recipe: recipeText, Base: "750g", By: "Mara"})
	require.NoError(t, err)
	_, err = b.Start(ctx, plan.Request{Recipe: recipeText, Base: "750g"})
	require.ErrorIs(t, err, ErrRefused, "one batch at a time")
	require.NoError(t, b.Do(ctx, Command{Word: "yes", Rest: "Ilse"}))
	w := b.Watch(nil)
	defer w.Close()
	v := view(t, w)
	require.Equal(t, "container", v.Now.State)
	require.Equal(t, "Nepheline syenite", v.Now.Material)
	require.Equal(t, "307.5", v.Now.Target)
	stop()

	b, stop = benchOn(t, dir)
	defer stop()
	w = b.Watch(nil)
	defer w.Close()
	v = view(t, w)
	require.Equal(t, "container", v.Now.State, "it stands where it stood")
	require.Equal(t, "Ilse", v.Batch.By)
	require.NoError(t, b.Do(ctx, Command{Word: "skip", Rest: "yes"}))
}

func TestBenchRefusesBadWishes(t *testing.T) {
	b, stop := benchOn(t, t.TempDir())
	defer stop()
	for name, r := range map[string]plan.Request{
		"no size":        {Recipe: recipeText},
		"two sizes":      {Recipe: recipeText, Base: "1kg", Dry: "1kg"},
		"no unit":        {Recipe: recipeText, Base: "750"},
		"negative":       {Recipe: recipeText, Base: "-750g"},
		"nothing":        {Recipe: recipeText, Base: "0g"},
		"no recipe":      {Recipe: "", Base: "750g"},
		"negative share": {Recipe: "Quartz -3\n", Base: "750g"},
		"twice":          {Recipe: "Quartz 50\nWhiting 20\nQuartz 30\n", Base: "750g"},
		"unreadable":     {Recipe: "Quartz lots\n", Base: "750g"},
		"too large":      {Recipe: recipeText, Base: "900kg"},
		"too small":      {Recipe: recipeText, Base: "0.001g"},
		"bad share":      {Recipe: recipeText, Base: "750g", Allow: map[string]string{"base": "0%"}},
		"bad role":       {Recipe: recipeText, Base: "750g", Allow: map[string]string{"colour": "1%"}},
		"bad volume":     {Recipe: recipeText, Wet: "2l of 1.45"},
		"no slip":        {Recipe: recipeText, Wet: "2l at 0.9"},
	} {
		_, err := b.Start(context.Background(), r)
		require.Error(t, err, name)
		require.NotErrorIs(t, err, ErrStopped, name)
	}
}

// failing is a disk that takes so many appends.
type failing struct {
	n   int
	mu  sync.Mutex
	got []fact.Fact
}

func (f *failing) Append(fs []fact.Fact) ([][]byte, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.n--; f.n < 0 {
		return nil, errors.New("no space left on device")
	}
	f.got = append(f.got, fs...)
	return make([][]byte, len(fs)), nil
}

func TestAFullDiskStopsRecordingVisibly(t *testing.T) {
	disk := &failing{n: 1}
	b := New(Config{Recorder: disk, Scales: []sheet.Scale{{Name: "bench", Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram}}})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	done := make(chan struct{})
	go func() { defer close(done); _ = b.Run(ctx) }()
	_, err := b.Start(ctx, plan.Request{Recipe: "Quartz 100\n", Base: "750g", By: "Mara"})
	require.NoError(t, err)
	require.ErrorContains(t, b.Do(ctx, Command{Word: "yes"}), "no space left")
	w := b.Watch(nil)
	v := view(t, w)
	require.False(t, v.Recording.OK)
	require.Contains(t, v.Recording.Why.String(), "no space left")
	require.Equal(t, "blind", v.Now.State, "no hand is guided")
	require.ErrorIs(t, b.Do(ctx, Command{Word: "yes"}), ErrRefused)
	require.Len(t, disk.got, 1)
	cancel()
	<-done
	require.False(t, b.s.Batch.Reminded, "what is not on disk did not happen")
	require.ErrorIs(t, b.Do(context.Background(), Command{Word: "yes"}), ErrStopped)
}

// slowDisk holds each append until it is let go.
type slowDisk struct{ asked, let chan struct{} }

func (d slowDisk) Append(fs []fact.Fact) ([][]byte, error) {
	d.asked <- struct{}{}
	<-d.let
	return make([][]byte, len(fs)), nil
}

// While the disk is waited for, the page goes on to show the scale. What it takes from
// those lines it takes after the disk has the fact before, and none of them is lost.
func TestReadingsGoOnWhileTheDiskIsSlow(t *testing.T) {
	disk := slowDisk{make(chan struct{}, 9), make(chan struct{})}
	b := New(Config{Recorder: disk, Scales: []sheet.Scale{{Name: "bench", Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram}}})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	ran := make(chan struct{})
	go func() { defer close(ran); _ = b.Run(ctx) }()
	quick := sync.OnceFunc(func() { close(disk.let) })
	defer func() { quick(); cancel(); <-ran }()
	w := b.Watch(nil)
	defer w.Close()
	at, n := time.Now(), uint64(0)
	say := func(mass protocol.Mass, settled bool) {
		at, n = at.Add(100*time.Millisecond), n+1
		b.Feed(scale.Update{Scale: "bench", At: at, Link: scale.Up, HasReading: true, HasMass: true, Mass: mass, Step: protocol.Gram / 10, Settled: settled,
			Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram, Raw: []byte(mass.Grams(1))}, Counts: scale.Counts{Frames: n}})
	}
	go func() { disk.let <- struct{}{} }() // the batch is on disk at once
	_, err := b.Start(ctx, plan.Request{Recipe: "Quartz 100\n", Base: "750g", By: "Mara"})
	require.NoError(t, err)
	say(0, true)
	require.Eventually(t, func() bool { return view(t, w).Scales[0].Frames == 1 && len(disk.asked) == 1 }, 10*time.Second, time.Millisecond)
	answered := make(chan error, 1)
	go func() { answered <- b.Do(ctx, Command{Word: "yes"}) }()
	require.Eventually(t, func() bool { return len(disk.asked) == 2 }, 10*time.Second, time.Millisecond)
	say(50*protocol.Gram, false)
	for range 30 {
		say(84*protocol.Gram, true)
	}
	require.Eventually(t, func() bool { return view(t, w).Scales[0].Frames > 2 }, 10*time.Second, time.Millisecond, "the number lives")
	require.Equal(t, "reminder", view(t, w).Now.State, "but the answer is not on disk")
	quick()
	require.NoError(t, <-answered)
	require.Eventually(t, func() bool { return view(t, w).Now.State == "pour" }, 10*time.Second, time.Millisecond, "from lines that came meanwhile")
}

func TestTwoBrowsersPressingAtOnce(t *testing.T) {
	b, stop := benchOn(t, t.TempDir())
	defer stop()
	ctx := context.Background()
	_, err := b.Start(ctx, plan.Request{Recipe: recipeText, Base: "750g", By: "Mara"})
	require.NoError(t, err)
	require.NoError(t, b.Do(ctx, Command{Word: "yes"}))
	w := b.Watch(nil)
	defer w.Close()
	seen := view(t, w).Seq
	errs := make(chan error, 2)
	for range 2 {
		go func() { errs <- b.Do(ctx, Command{Word: "skip", Rest: "yes", Seen: seen}) }()
	}
	one, two := <-errs, <-errs
	require.True(t, (one == nil) != (two == nil), "one skip counts and the other is refused: %v, %v", one, two)
	v := view(t, w)
	require.Equal(t, "Quartz", v.Now.Material, "only one material was left out")
}

func TestASlowWatcherDelaysNobody(t *testing.T) {
	b, stop := benchOn(t, t.TempDir())
	defer stop()
	slow := b.Watch(nil) // never read
	defer slow.Close()
	w := b.Watch(nil)
	defer w.Close()
	for n := range 1000 {
		b.Feed(scale.Update{Scale: "bench", At: time.Now(), Link: scale.Up, Counts: scale.Counts{Damaged: uint64(n)}})
	}
	require.NoError(t, b.call(context.Background(), func() {}))
	require.Greater(t, view(t, w).Seq, uint64(100))
}

// A scale at rest says the same ten times a second; nobody is told of it, but who asks
// hears of the last line. Whatever changes is told at once.
func TestARestingScaleIsNoNews(t *testing.T) {
	now := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	var views []View
	b := New(Config{Scales: benchScales, Now: func() time.Time { return now }, OnView: func(v View) { views = append(views, v) }})
	frames := uint64(0)
	say := func(m string, settled bool) {
		now = now.Add(100 * time.Millisecond)
		frames++
		require.NoError(t, b.input(Input{At: now, Update: &scale.Update{Scale: "bench", At: now, Link: scale.Up, HasReading: true, HasMass: true,
			Mass: g(m), Step: g("0.1"), Settled: settled, Counts: scale.Counts{Frames: frames},
			Reading: protocol.Reading{Status: protocol.OK, Unit: protocol.UnitGram, Raw: []byte(m)}}}))
	}
	for range 100 {
		say("12.3", true)
	}
	require.Len(t, views, 1)
	w := b.Watch(nil)
	defer w.Close()
	require.Equal(t, uint64(100), w.View().Scales[0].Frames)
	require.Equal(t, views[0].Seq, w.View().Seq)
	say("12.3", false)
	require.Len(t, views, 2, "unsettled is news")
	say("12.4", false)
	require.Len(t, views, 3, "another weight is news")
	require.Equal(t, "12.4", views[2].Scales[0].Raw)
	require.Equal(t, views[0].Seq+2, views[2].Seq)
	for range 12 {
		now = now.Add(250 * time.Millisecond)
		require.NoError(t, b.input(Input{At: now}))
	}
	require.Len(t, views, 4, "silence is news")
	now = now.Add(-time.Hour) // the clock is set back
	say("12.5", false)
	say("12.5", false)
	require.Len(t, views, 5, "and a clock that is set back stops nothing")
}

// Nor is the bench woken for it; whatever is new comes through.
func TestTheDoorLetsNewsThrough(t *testing.T) {
	var d door
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	frames := uint64(0)
	say := func(on, m string, change ...func(*scale.Update)) bool {
		at = at.Add(100 * time.Millisecond)
		frames++
		u := scale.Update{Scale: on, At: at, Link: scale.Up, HasReading: true, HasMass: true, Mass: g(m), Settled: true, Counts: scale.Counts{Frames: frames},
			Reading: protocol.Reading{Status: protocol.OK, Raw: []byte(m)}}
		for _, c := range change {
			c(&u)
		}
		return !d.idle(u)
	}
	through := func(n int, m string) (k int) {
		for range n {
			if say("bench", m) {
				k++
			}
		}
		return k
	}
	require.Equal(t, 20, through(20, "12.3"), "two seconds of it")
	require.Equal(t, 12, through(100, "12.3"), "then about once a second")
	require.Equal(t, 20, through(21, "12.4"))
	through(7, "12.4")
	require.True(t, say("fine", "12.4"), "each scale for itself")
	through(13, "12.4")
	for name, c := range map[string]func(*scale.Update){
		"settled": func(u *scale.Update) { u.Settled = false },
		"raw":     func(u *scale.Update) { u.Reading.Raw = []byte(" 12.4") },
		"damaged": func(u *scale.Update) { u.Counts.Damaged++ },
		"link":    func(u *scale.Update) { u.Link = scale.Lost },
		"stale":   func(u *scale.Update) { u.Stale = true },
		"clock":   func(u *scale.Update) { u.At = u.At.Add(-time.Hour) },
	} {
		through(30, "12.4")
		for through(1, "12.4") > 0 { // the next would be idle
		}
		require.True(t, say("bench", "12.4", c), name)
	}
}

func TestTwoDaemonsCannotShareAJournal(t *testing.T) {
	dir := t.TempDir()
	_, stop := benchOn(t, dir)
	defer stop()
	_, _, _, err := open(dir, time.Time{})
	require.Error(t, err)
	_, err = os.Stat(filepath.Join(dir, "journal.jsonl"))
	require.NoError(t, err)
}

// TestAnythingReplays throws random hands at the bench and holds what must hold
// for all of them: a replay ends where the live bench stands, every portion is
// a difference of two weights that the scale showed, and a step is never done
// by a weight that had not settled.
func TestAnythingReplays(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 7))
		r := newRig(t, line("Quartz", "base", "84.6", "0.8", "bench"), line("Copper carbonate", "strong", "2.50", "0.05", "fine"), line("Whiting", "base", "40.0", "0.4", "bench"))
		r.must("yes Mara")
		words := []string{"done", "keep", "enlarge", "again", "undo", "skip", "pause", "resume", "yes Mara", "note x", "typed 3.1g"}
		for range 60 {
			on := []string{"bench", "fine"}[rng.IntN(2)]
			most := map[string]int{"bench": 3000, "fine": 2000}[on]
			switch k := rng.IntN(20); {
			case k < 5:
				r.set(on, protocol.Mass(rng.IntN(most)*int(protocol.Gram)/10).Rounded(1))
			case k < 8:
				r.set(on, "0")
			case k < 10:
				i := r.s.Batch.Current()
				if i < 0 {
					continue
				}
				on = r.s.Batch.Steps[i].Scale
				if p := r.s.pan(on); p != nil && p.On() == pan.Container {
					r.set(on, (p.Vessel().Base + r.s.aim(i).Target).Rounded(2-map[string]int{"bench": 1}[on]))
				}
			case k < 13:
				r.jump(on, protocol.Mass(rng.IntN(most)*int(protocol.Gram)/10).Rounded(1))
				r.say(on, protocol.Claim(rng.IntN(3)))
			case k == 13:
				r.key(on)
				r.rest(on, time.Second)
			case k == 14:
				r.lose(on)
			case k == 15:
				r.restart()
			case k == 16:
				r.tick(time.Duration(rng.IntN(120)) * time.Second)
			default:
				_ = r.do(words[rng.IntN(len(words))])
			}
		}
		r.restart()
		var sum protocol.Mass
		void := map[uint64]bool{}
		for _, f := range r.facts {
			if a, ok := f.Body.(fact.Amended); ok && a.Void {
				void[a.Of] = true
			}
		}
		for _, f := range r.facts {
			if p, ok := f.Body.(fact.Portion); ok && !void[f.Seq] {
				sum += p.Delivered
			}
		}
		for _, st := range r.s.Batch.Steps {
			sum -= st.Delivered
		}
		require.Zero(t, sum, "seed %d: the steps hold what the portions say", seed)
	}
}
