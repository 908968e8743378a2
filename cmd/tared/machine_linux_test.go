package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale/sim"
	"tared/session"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/plan"
)

// chooser is chance with a seed that is told.
type chooser struct{ rng *rand.Rand }

func (c chooser) wait(most time.Duration) { time.Sleep(time.Duration(c.rng.Int64N(int64(most)))) }

// house is a machine with a bench before it, and hands that do what its page says.
type house struct {
	*workshop
	*machine
	bench, fine *lead
	ctx         context.Context
	chance      chooser
	parts       *regexp.Regexp // those that are to run

	told struct {
		sync.Mutex
		taken    map[string]protocol.Mass // by batch and material, as a page showed it
		finished int                      // batches that it showed as finished
		last     string                   // of these
	}
}

// A whole machine: from a bare Debian to weighed batches, while scales are pulled out and
// plugged into other ports, the power fails, and a new version is installed. ".ci/machine"
// runs it; TARED_PARTS is a regular expression that chooses some of its parts.
func TestMachine(t *testing.T) {
	of, debs := os.Getenv("TARED_MACHINE"), os.Getenv("TARED_DEBS")
	if of == "" {
		t.Skip("a whole machine is no unit test: bash .ci/machine")
	}
	seed := uint64(often(t, "TARED_SEED", int(time.Now().Unix()%10000)))
	t.Logf("TARED_SEED=%d", seed)
	h := newHouse(t, seed, newMachine(t, of, debs))
	h.on()
	step := func(name string, f func(*testing.T, *house)) {
		if !t.Failed() && h.chosen(name) {
			began := time.Now()
			f(t, h)
			t.Logf("%s: %.0f s", name, time.Since(began).Seconds())
		}
	}
	step("installed", installed)
	step("set up by the page", setUp)
	end := h.work()
	step("a first batch", weighed)
	step("pulled out in mid-pour, and into another port", replugged)
	step("what the disk would hold", forked)
	step("the power fails", powerCuts)
	step("upgraded with an open batch", upgraded)
	end()
	step("the record is what is in the bucket", compared)
	step("two alike adapters change places", swapped)
	step("a scale without a serial port", hidScale)
	step("the disk is full", full)
	step("the clock was wrong at the start", clockWrong)
	step("purged", purged)
}

// chosen tells whether a part is to run; what the others rest on always is.
func (h *house) chosen(part string) bool {
	return part == "installed" || part == "set up by the page" || h.parts.MatchString(part)
}

func often(t *testing.T, name string, usual int) int {
	s := os.Getenv(name)
	if s == "" {
		return usual
	}
	n, err := strconv.Atoi(s)
	require.NoError(t, err, name)
	return n
}

func newHouse(t *testing.T, seed uint64, m *machine) *house {
	w := &workshop{t: t, potter: sim.Steady(), dir: t.TempDir(), page: &daemon{url: m.url}}
	w.potter.Haste, w.potter.Think = 1.5, 0.7
	h := &house{workshop: w, machine: m, chance: chooser{rand.New(rand.NewPCG(seed, 1))}, parts: regexp.MustCompile(os.Getenv("TARED_PARTS"))}
	h.told.taken = map[string]protocol.Mass{}
	var err error
	w.clock, err = sim.NewClock(1)
	require.NoError(t, err)
	var places []sim.Place
	for name, model := range map[string]sim.Model{"bench": sim.Bench(), "fine": sim.Fine()} {
		model.Draught = 0 // a quiet room: this is about the machine
		places = append(places, sim.Place{Name: name, Model: model, Container: map[string]float64{"bench": 118.4, "fine": 21.37}[name]})
	}
	w.world, err = sim.NewWorld(seed, w.clock.Now(), places...)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	h.ctx = ctx
	lay := func(name, format, serial string) *lead {
		src, err := w.world.Scale(name)
		require.NoError(t, err)
		l, err := sim.NewLine(src, sim.LineOptions{Format: format, Clock: w.clock, Pipe: true})
		require.NoError(t, err)
		go func() { _ = l.Run(ctx) }()
		return m.lay(ctx, l, serial)
	}
	h.bench, h.fine = lay("bench", "header-comma-mode", "BENCH1"), lay("fine", "letter-status", "FINE2")
	return h
}

// ready waits until both scales are heard.
func (h *house) ready(what string) {
	h.workshop.t.Helper()
	for began := time.Now(); ; time.Sleep(50 * time.Millisecond) {
		if v := h.look(); v != nil {
			up := 0
			for _, s := range v.Scales {
				if s.Link == "up" {
					up++
				}
			}
			if up == 2 && len(v.Scales) == 2 {
				return
			}
		}
		if time.Since(began) > 4*time.Minute {
			_, body := h.ask("api/view", "")
			require.Fail(h.workshop.t, "both scales should be heard", "%s: %s\n%s", what, body, h.log())
		}
	}
}

// look is what the page shows now.
func (h *house) look() *session.View {
	_, body := h.ask("api/view", "")
	var v session.View
	if json.Unmarshal([]byte(body), &v) != nil {
		return nil
	}
	return &v
}

// stands is what the page shows, what hands did last, and what the program logged.
func (h *house) stands() string {
	_, page := h.ask("api/view", "")
	h.workshop.mu.Lock()
	diary := strings.Join(h.diary[max(0, len(h.diary)-20):], "\n")
	h.workshop.mu.Unlock()
	return page + "\n" + diary + "\n" + h.log()
}

func (h *house) log() string {
	said, _ := h.sh("journalctl -b -u tared --no-pager | tail -40; ls -l /dev/ttyUSB* /dev/serial/by-id")
	return said
}

// ask asks the page, and is patient where nobody is there.
func (h *house) ask(path, body string) (int, string) {
	method := http.MethodGet
	if body != "" {
		method = http.MethodPost
	}
	req, err := http.NewRequest(method, h.url+path, strings.NewReader(body))
	require.NoError(h.workshop.t, err)
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	client := http.Client{Timeout: 20 * time.Second}
	res, err := client.Do(req)
	if err != nil {
		return 0, err.Error()
	}
	defer res.Body.Close()
	var b bytes.Buffer
	_, _ = b.ReadFrom(res.Body)
	return res.StatusCode, b.String()
}

// work lets hands mix batch after batch, by what the page shows, until it is ended; then
// the batch that is open is mixed to its end.
func (h *house) work() (end func()) {
	ctx, cancel := context.WithCancel(h.ctx)
	var enough atomic.Bool
	var all sync.WaitGroup
	all.Go(func() { h.browse(ctx) })
	all.Go(func() {
		for n := uint64(1); !enough.Load() && ctx.Err() == nil; n++ {
			h.next(ctx)
			h.hands(ctx, n)
		}
		cancel()
	})
	h.workshop.t.Cleanup(func() { cancel(); all.Wait() })
	return func() { enough.Store(true); all.Wait() }
}

// next clears the scales of a batch that is finished, and begins another.
func (h *house) next(ctx context.Context) {
	for began := false; ctx.Err() == nil; time.Sleep(100 * time.Millisecond) {
		v := h.view.Load()
		switch {
		case v == nil: // the page is dark
		case v.Batch == nil || v.Now.State != "finished":
			return
		case !began:
			began = true
			for _, name := range h.world.Names() {
				_ = h.world.Do(sim.Action{Verb: sim.Lift, Scale: name}) // nothing stands there, perhaps
			}
			time.Sleep(3 * time.Second)
		default:
			h.post(ctx, "api/start", plan.Request{Recipe: grotto, Base: "100g", By: "Ilse"})
			time.Sleep(time.Second)
		}
	}
}

// browse keeps the page open, whatever happens to the machine.
func (h *house) browse(ctx context.Context) {
	for ctx.Err() == nil {
		conn, _, err := websocket.DefaultDialer.DialContext(ctx, "ws"+strings.TrimPrefix(h.url, "http")+"live", nil)
		if err != nil {
			time.Sleep(200 * time.Millisecond)
			continue
		}
		stop := context.AfterFunc(ctx, func() { _ = conn.Close() })
		var page pageMemory
		for {
			// Without a word for two seconds a page turns to dashes, and tries anew.
			_ = conn.SetReadDeadline(time.Now().Add(5 * time.Second))
			_, msg, err := conn.ReadMessage()
			if err != nil {
				break
			}
			if v, ok := page.hear(msg); ok {
				h.remember(&v)
				h.view.Store(&v)
			}
		}
		stop()
		_ = conn.Close()
		h.view.Store(nil)
	}
}

// remember notes what the page says is taken.
func (h *house) remember(v *session.View) {
	if v.Batch == nil {
		return
	}
	h.told.Lock()
	defer h.told.Unlock()
	if v.Now.State == "finished" && v.Batch.Mark != h.told.last {
		h.told.last = v.Batch.Mark
		h.told.finished++
	}
	for _, s := range v.Batch.Steps {
		if m := massIn(s.Delivered, "g"); m != nil && *m > 0 {
			at := v.Batch.Mark + " " + s.Material
			if h.told.taken[at] > *m {
				h.workshop.t.Errorf("%s: %s was shown as taken, and now %s", at, h.told.taken[at], *m)
			}
			h.told.taken[at] = *m
		}
	}
}

func (h *house) takenNow() map[string]protocol.Mass {
	h.told.Lock()
	defer h.told.Unlock()
	now := map[string]protocol.Mass{}
	for k, m := range h.told.taken {
		now[k] = m
	}
	return now
}

// fetchRecord brings the journal of the machine here.
func (h *house) fetchRecord() {
	text := h.must("cat /var/lib/tared/" + journal.Name)
	require.NoError(h.workshop.t, os.WriteFile(filepath.Join(h.workshop.dir, journal.Name), []byte(text), 0o600))
}

func factsIn(dir string) (all []fact.Fact, err error) {
	_, err = journal.Read(dir, func(r journal.Record) error {
		f, _, err := fact.Decode(r.Line)
		all = append(all, f)
		return err
	})
	return all, err
}

// sums is what went in, by batch and material.
func sums(facts []fact.Fact) map[string]protocol.Mass {
	in := map[string]protocol.Mass{}
	for _, f := range facts {
		switch b := f.Body.(type) {
		case fact.Portion:
			in[f.Batch+" "+b.Material] += b.Delivered
		case fact.Amended:
			in[f.Batch+" "+b.Material] += b.Is - b.Was
		}
	}
	return in
}
