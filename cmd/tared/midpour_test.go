//go:build unix

package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session"
	"tared/session/plan"
)

// vanishings is how often the scale vanishes in mid-pour: some in the usual run,
// a hundred with -vanish 100 (some three minutes).
var vanishings = flag.Int("vanish", 5, "how often the scale vanishes in mid-pour")

// plugged is a scale on a pseudo-terminal under a lasting link, that talks twenty
// times a second.
type plugged struct {
	t     *testing.T
	link  string
	tenth atomic.Int64 // on the pan
	stop  chan struct{}
	gone  chan struct{}
}

func (p *plugged) plug() {
	m, s, err := pty.Open()
	require.NoError(p.t, err)
	require.NoError(p.t, os.Symlink(s.Name(), p.link))
	// As long as one end is open the system gives the number to nobody else.
	p.t.Cleanup(func() { s.Close() })
	p.stop, p.gone = make(chan struct{}), make(chan struct{})
	go func(stop, gone chan struct{}) {
		defer close(gone)
		defer m.Close()
		tick := time.NewTicker(50 * time.Millisecond)
		defer tick.Stop()
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			g := p.tenth.Load()
			_, _ = fmt.Fprintf(m, "ST,GS,+%05d.%d  g\r\n", g/10, g%10)
		}
	}(p.stop, p.gone)
}

func (p *plugged) unplug() {
	require.NoError(p.t, os.Remove(p.link))
	close(p.stop)
	<-p.gone
}

// In the middle of a pour the scale vanishes and comes back under another node,
// again and again. Each time the bench says so; when the pan shows what it showed
// before, the tare holds; nothing is ever taken, and at the end the portion is what
// was poured.
func TestAScaleVanishesInMidPour(t *testing.T) {
	t.Parallel()
	p := &plugged{t: t, link: filepath.Join(t.TempDir(), "scale")}
	var views atomic.Pointer[session.View]
	var lines atomic.Pointer[[]string]
	lines.Store(&[]string{})
	seen := make(chan struct{}, 1)
	dir := t.TempDir()
	c, err := scale.ParseSpec("name=bench,port=" + p.link + ",format=header-comma-mode,baud=9600,step=0.1g,max=2000g")
	require.NoError(t, err)
	w, err := newLiveBench(liveBenchConfig{dir: dir, scales: []scale.Config{c}, log: zerolog.Nop(), listen: listenPorts(dir, zerolog.Nop()),
		onView: func(v session.View) {
			views.Store(&v)
			select {
			case seen <- struct{}{}:
			default:
			}
		},
		onFacts: func(more [][]byte) {
			all := *lines.Load()
			for _, l := range more {
				all = append(all, string(l))
			}
			lines.Store(&all)
		}})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- w.Run(ctx) }()
	t.Cleanup(func() { cancel(); require.NoError(t, <-done); require.NoError(t, w.Close()) })
	until := func(what string, ok func(session.View) bool) {
		t.Helper()
		late := time.After(patience(t))
		for {
			if v := views.Load(); v != nil && ok(*v) {
				return
			}
			select {
			case <-seen:
			case <-late:
				v := views.Load()
				require.Fail(t, "it did not come to this", "%s; the bench says %q: %q %v", what, v.Now.State, v.Now.Detail, v.Asked)
			}
		}
	}
	count := func(kind string) int {
		return strings.Count(strings.Join(*lines.Load(), "\n"), `"kind":"`+kind+`"`)
	}
	state := func(s string) func(session.View) bool { return func(v session.View) bool { return v.Now.State == s } }

	p.plug()
	_, err = w.bench.Start(ctx, plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Base: "1000g", By: "Mara"})
	require.NoError(t, err)
	require.NoError(t, w.bench.Do(ctx, session.Command{Word: "yes", Rest: "Mara"}))
	until("an empty pan", func(v session.View) bool { return v.Scales[0].Settled })
	p.tenth.Store(1200)
	until("tared", state("pour"))

	// The files of a rig that is warm: what is open after one round is open after all.
	var files, routines int
	poured := int64(0)
	for k := range *vanishings {
		poured += 10 + int64(k)%40 // 1 g and more
		p.tenth.Store(1200 + poured)
		want := protocol.Mass(poured * int64(protocol.Gram) / 10).Grams(1)
		until("poured and at rest", func(v session.View) bool { return v.Now.In == want && v.Now.Settled })
		p.unplug()
		until("lost", state("lost"))
		assert.Equal(t, k+1, count("lost"))
		p.plug()
		until("the tare holds", func(v session.View) bool { return v.Now.State == "pour" && v.Now.In == want })
		assert.Equal(t, k+1, count("found"))
		require.Zero(t, count("portion"), "nothing was tipped")
		if k == 0 {
			files, routines = openFiles(t), runtime.NumGoroutine()
		}
	}
	// Other tests run beside this one, so these are told and not judged here; package
	// serialport counts them.
	t.Logf("%d times; goroutines %d, then %d; descriptors %d, then %d", *vanishings, routines, runtime.NumGoroutine(), files, openFiles(t))

	p.tenth.Store(1200 + 6000)
	until("in the band", state("in"))
	p.tenth.Store(0)
	until("lifted", state("lifted"))
	p.tenth.Store(1200)
	until("the next one", func(v session.View) bool { return v.Now.Material == "Whiting" })
	assert.Equal(t, 1, count("portion"))
	assert.Contains(t, strings.Join(*lines.Load(), "\n"), `"delivered":{"g":"600.0"}`)
	p.unplug()
}

func openFiles(t *testing.T) int {
	t.Helper()
	all, err := os.ReadDir("/dev/fd")
	require.NoError(t, err)
	return len(all)
}
