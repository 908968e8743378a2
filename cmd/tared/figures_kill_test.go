//go:build unix

package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale/sim"
	"tared/session"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/plan"
	"tared/session/question"
)

// grotto is an invented recipe: one material for the bench scale, one for the fine
// one.
const grotto = "# Grotto, invented for tests\nQuartz 100\n+ Copper carbonate 2\n"

// killsEach is how often the program is killed in one batch.
const killsEach = 5

// The power fails at any moment of a batch, again and again: while the potter
// pours, lifts, tips, answers, and while a line is being written. The scales and
// the hands live on, as they do in a workshop. After each kill the chain holds and
// every line that was there before is there unchanged; the page that comes up shows
// each portion once. In the end the record of each material is what really went
// into the bucket.
//
// TARED_KILLS=1000 kills more often than the ten times of every day, and lets
// other hands work too.
func TestKilledAtAnyMoment(t *testing.T) {
	t.Parallel()
	kills := 2 * killsEach
	if s := os.Getenv("TARED_KILLS"); s != "" {
		n, err := strconv.Atoi(s)
		require.NoError(t, err, "TARED_KILLS")
		kills = n
	}
	for n := range (kills + killsEach - 1) / killsEach {
		t.Run(fmt.Sprint("batch ", n), func(t *testing.T) {
			t.Parallel()
			w := newWorkshop(t, uint64(n)+1)
			if n > 1 {
				w.potter = sim.Potters()[n%len(sim.Potters())]
			}
			w.mix()
			w.compare()
			t.Logf("killed %d times", w.kills)
		})
	}
}

// workshop is a simulated bench with hands that outlives the program.
type workshop struct {
	t      *testing.T
	rng    *rand.Rand // of the killer
	clock  sim.Clock
	world  *sim.World
	potter sim.Potter
	dir    string // of the journal
	args   []string
	taken  map[string]protocol.Mass // as a page showed it
	lines  [][]byte                 // of the journal at the last kill
	kills  int
	diary  []string // what the hands did, and what was done to the program

	mu   sync.Mutex
	page *daemon                      // nil while the power is off
	view atomic.Pointer[session.View] // what the page shows; nil: nothing
}

func newWorkshop(t *testing.T, seed uint64) *workshop {
	w := &workshop{t: t, rng: rand.New(rand.NewPCG(seed, 1)), potter: sim.Steady(), dir: t.TempDir(), taken: map[string]protocol.Mass{}}
	w.potter.Haste, w.potter.Think = 1.5, 0.7
	var err error
	w.clock, err = sim.NewClock(1)
	require.NoError(t, err)
	w.args = []string{"serve", "--listen", "127.0.0.1:0", "--data", w.dir, "--log", "error"}
	var places []sim.Place
	for _, m := range []struct {
		name      string
		model     sim.Model
		container float64
	}{{"bench", sim.Bench(), 118.4}, {"fine", sim.Fine(), 21.37}} {
		m.model.Draught = 0 // a quiet room: this test is about the program
		places = append(places, sim.Place{Name: m.name, Model: m.model, Container: m.container})
	}
	w.world, err = sim.NewWorld(seed, w.clock.Now(), places...)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	var lines sync.WaitGroup
	t.Cleanup(func() { cancel(); lines.Wait() })
	formats := map[string]string{"bench": "header-comma-mode", "fine": "letter-status"}
	for _, p := range places {
		src, err := w.world.Scale(p.Name)
		require.NoError(t, err)
		port := filepath.Join(t.TempDir(), "tty")
		l, err := sim.NewLine(src, sim.LineOptions{Format: formats[p.Name], Clock: w.clock, Link: port})
		require.NoError(t, err)
		lines.Go(func() { _ = l.Run(ctx) })
		step, err := p.Model.Units[0].Ranges[0].Step.Mass(p.Model.Units[0].Unit)
		require.NoError(t, err)
		w.args = append(w.args, "--scale", fmt.Sprintf("name=%s,port=%s,format=%s,baud=9600,step=%sg,max=%sg",
			p.Name, port, formats[p.Name], step.Grams(0), p.Model.Max.Grams(0)))
	}
	return w
}

func (w *workshop) note(format string, a ...any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.diary = append(w.diary, w.clock.Now().Format("15:04:05.000 ")+fmt.Sprintf(format, a...))
}

// mix lets the potter mix one batch while the killer is about.
func (w *workshop) mix() {
	ctx, cancel := context.WithDeadline(w.t.Context(), deadline(w.t)) // met only by a batch that cannot be finished
	defer cancel()
	var hands sync.WaitGroup
	finished := make(chan struct{})
	seed := w.rng.Uint64()
	hands.Go(func() {
		defer close(finished)
		w.hands(ctx, seed)
	})
	for n := 0; ; n++ {
		stop := w.powerOn(ctx)
		dead := w.when(ctx, finished, n)
		stop(dead)
		if !dead {
			break
		}
	}
	hands.Wait()
	require.NoError(w.t, ctx.Err(), "the batch was never finished\n%s", w.story())
}

// powerOn starts the program, and a browser that shows its page; the batch is
// begun where none is. The function that it returns ends the program.
func (w *workshop) powerOn(ctx context.Context) (off func(kill bool)) {
	w.holds()
	d := startDaemon(w.t, w.args...)
	w.mu.Lock()
	w.page = d
	w.mu.Unlock()
	w.note("power on")
	first := true
	dial := func() (*websocket.Conn, error) {
		conn, _, err := websocket.DefaultDialer.DialContext(ctx, "ws"+strings.TrimPrefix(d.url, "http")+"live", nil)
		return conn, err
	}
	var conn atomic.Pointer[websocket.Conn]
	c, err := dial()
	require.NoError(w.t, err)
	conn.Store(c)
	var browser sync.WaitGroup
	browser.Go(func() {
		var page pageMemory
		for {
			_, msg, err := conn.Load().ReadMessage()
			if err != nil {
				w.view.Store(nil)
				_ = conn.Load().Close()
				// A page that is dropped, as a slow one may be, comes back by itself.
				again, err := dial()
				if err != nil {
					return
				}
				conn.Store(again)
				continue
			}
			if v, ok := page.hear(msg); ok {
				w.keeps(&v)
				if first {
					first = false
					w.once(&v)
				}
				w.view.Store(&v)
			}
		}
	})
	return func(kill bool) {
		w.mu.Lock()
		w.page = nil
		w.mu.Unlock()
		if kill {
			_ = d.cmd.Process.Kill()
			_ = d.cmd.Wait()
			w.kills++
			w.note("killed")
		} else {
			assert.Equal(w.t, exitDone, d.end(w.t))
		}
		_ = conn.Load().Close()
		browser.Wait()
	}
}

// keeps holds that what a page once showed as taken is not forgotten, whatever
// happens to the program: it was on the disk before.
func (w *workshop) keeps(v *session.View) {
	if v.Batch == nil {
		assert.Empty(w.t, w.taken, "the batch is forgotten")
		return
	}
	for _, s := range v.Batch.Steps {
		m := massIn(s.Delivered, "g")
		if assert.NotNil(w.t, m, "delivered %q", s.Delivered) {
			assert.GreaterOrEqual(w.t, *m, w.taken[s.Material], "%s was shown as taken, and is not any more", s.Material)
			w.taken[s.Material] = *m
		}
	}
}

// holds looks at the journal after a kill: its chain holds, and what was in it
// before is in it still, byte for byte.
func (w *workshop) holds() {
	var now [][]byte
	_, err := journal.Read(w.dir, func(r journal.Record) error {
		now = append(now, bytes.Clone(r.Line))
		return nil
	})
	if errors.Is(err, os.ErrNotExist) {
		assert.Empty(w.t, w.lines, "the journal is gone")
		return
	}
	require.NoError(w.t, err, w.story())
	if assert.GreaterOrEqual(w.t, len(now), len(w.lines), "lines are lost") {
		for i, l := range w.lines {
			assert.Equal(w.t, string(l), string(now[i]), "line %d was changed", i+1)
		}
	}
	w.lines = now
}

// once holds that the first page after a start shows each portion of the journal
// once and no other: what it says went in is the sum of those that were there, and
// perhaps of those that have come since.
func (w *workshop) once(v *session.View) {
	if v.Batch == nil {
		return
	}
	shown := map[string]protocol.Mass{}
	for _, s := range v.Batch.Steps {
		if m := massIn(s.Delivered, "g"); m != nil && *m != 0 {
			shown[s.Material] = *m
		}
	}
	sum := map[string]protocol.Mass{}
	facts := w.facts()
	for i, f := range facts {
		switch b := f.Body.(type) {
		case fact.Portion:
			sum[b.Material] += b.Delivered
		case fact.Amended:
			sum[b.Material] += b.Is - b.Was
		}
		maps.DeleteFunc(sum, func(_ string, m protocol.Mass) bool { return m == 0 })
		if i+1 >= len(w.lines) && maps.Equal(sum, shown) {
			return
		}
	}
	assert.Fail(w.t, "a portion is lost, doubled or changed", "the page shows %v and the journal says %v\n%s", shown, sum, w.story())
}

// when waits for the moment of a kill, and tells whether there is to be one.
// Every other one is the moment in which a line gets into the journal; the others
// are any.
func (w *workshop) when(ctx context.Context, finished <-chan struct{}, n int) bool {
	if n >= killsEach {
		select {
		case <-finished:
		case <-ctx.Done():
		}
		return false
	}
	path := filepath.Join(w.dir, journal.Name)
	size := func() int64 {
		info, err := os.Stat(path)
		if err != nil {
			return 0
		}
		return info.Size()
	}
	first, lines := size(), 1+w.rng.IntN(2)
	moment, look := time.After(time.Duration(w.rng.IntN(5000))*time.Millisecond), (<-chan time.Time)(nil)
	if n%2 == 1 {
		moment = time.After(12 * time.Second) // should nothing be written for so long
		tick := time.NewTicker(500 * time.Microsecond)
		defer tick.Stop()
		look = tick.C
	}
	for {
		select {
		case <-finished:
			return false
		case <-ctx.Done():
			return false
		case <-moment:
			return true
		case <-look:
			if now := size(); now != first {
				if first, lines = now, lines-1; lines == 0 {
					return true
				}
			}
		}
	}
}

// hands mix one batch to its end by what the page shows. Where it shows nothing
// they end what they are about, and wait.
func (w *workshop) hands(ctx context.Context, seed uint64) {
	auto := sim.NewAuto(sim.AutoOptions{Seed: seed, Potter: w.potter, By: "Ilse", Truth: question.Truth})
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	asked := time.Time{}
	for !auto.Done() {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		g := sim.Guidance{State: "dark"}
		if v := w.view.Load(); v != nil {
			g = guidance(*v)
			if v.Batch == nil && time.Since(asked) > time.Second {
				asked = time.Now()
				w.post(ctx, "api/start", plan.Request{Recipe: grotto, Base: "100g", By: "Ilse"})
			}
		}
		for _, a := range auto.Step(w.clock.Now(), g) {
			w.note("%s %s %s", a.Verb, a.Scale, a.Word)
			if a.Verb == sim.Say {
				c := session.ParseCommand(a.Word)
				c.By = "Ilse"
				w.post(ctx, "api/do", c)
				continue
			}
			assert.NoError(w.t, w.world.Do(a))
		}
	}
}

// post carries a word to the program, as far as there is one; a person who gets
// no answer looks again.
func (w *workshop) post(ctx context.Context, path string, body any) {
	w.mu.Lock()
	d := w.page
	w.mu.Unlock()
	if d == nil {
		return
	}
	j, err := json.Marshal(body)
	if !assert.NoError(w.t, err) {
		return
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, d.url+path, strings.NewReader(string(j)))
	if !assert.NoError(w.t, err) {
		return
	}
	req.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		w.note("no answer to %s", j)
		return
	}
	defer res.Body.Close()
	said, _ := io.ReadAll(res.Body)
	if res.StatusCode >= 300 {
		w.note("refused: %s: %s", j, said)
	}
}

// compare holds the record against the bucket.
func (w *workshop) compare() {
	t := w.t
	got := runTared(t, "", "verify", "--data", w.dir)
	require.Equal(t, exitDone, got.code, "%s\n%s", got.err, w.story())
	got = runTared(t, "", "record", "--data", w.dir, "--json")
	require.Equal(t, exitDone, got.code, got.err)
	require.Equal(t, 1, strings.Count(got.out, "\n"), "one batch was begun, and only one:\n%s", w.story())
	var row struct{ Mark string }
	require.NoError(t, json.Unmarshal([]byte(got.out), &row))
	got = runTared(t, "", "record", row.Mark, "--data", w.dir, "--json")
	require.Equal(t, exitDone, got.code, got.err)
	var made struct {
		State string
		Lines []struct {
			Material, Verdict string
			Delivered, U      protocol.Mass
			Portions          int
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &made))
	require.Equal(t, "finished", made.State, w.story())
	require.Len(t, made.Lines, 2)

	sum, portions := map[string]protocol.Mass{}, map[string]int{}
	void := map[uint64]bool{}
	facts := w.facts()
	for _, f := range facts {
		if a, ok := f.Body.(fact.Amended); ok && a.Void {
			void[a.Of] = true
		}
	}
	for _, f := range facts {
		if p, ok := f.Body.(fact.Portion); ok && !void[f.Seq] {
			sum[p.Material] += p.Delivered
			portions[p.Material]++
		}
	}
	for _, l := range made.Lines {
		assert.Equal(t, sum[l.Material], l.Delivered, "%s: the record holds what the portions say", l.Material)
		assert.Equal(t, portions[l.Material], l.Portions, "%s", l.Material)
		// The world is made of floats; only the comparison with it is, too.
		truth := w.world.Bucket(l.Material)
		off := float64(l.Delivered)/float64(protocol.Gram) - truth
		u := float64(l.U) / float64(protocol.Gram)
		t.Logf("%s: recorded %s, in the bucket %.3f g, off by %.3f g, U %.3f g, %d portions, %s",
			l.Material, l.Delivered, truth, off, u, l.Portions, l.Verdict)
		if max(off, -off) > u {
			t.Logf("beyond U, which one in twenty is\n%s", w.story())
		}
		// So a test that is run every day asks for twice that.
		assert.InDelta(t, 0, off, 2*u, "%s: a weight came out wrong\n%s", l.Material, w.story())
	}
}

func (w *workshop) facts() (all []fact.Fact) {
	_, err := journal.Read(w.dir, func(r journal.Record) error {
		f, _, err := fact.Decode(r.Line)
		all = append(all, f)
		return err
	})
	if !errors.Is(err, os.ErrNotExist) {
		require.NoError(w.t, err)
	}
	return all
}

// story tells all that happened, for one who has to find out why.
func (w *workshop) story() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	var b strings.Builder
	fmt.Fprintln(&b, "The hands and the power:")
	for _, l := range w.diary {
		fmt.Fprintln(&b, l)
	}
	fmt.Fprintln(&b, "The journal:")
	if f, err := os.Open(filepath.Join(w.dir, journal.Name)); err == nil {
		defer f.Close()
		for s := bufio.NewScanner(f); s.Scan(); {
			fmt.Fprintln(&b, s.Text())
		}
	}
	return b.String()
}
