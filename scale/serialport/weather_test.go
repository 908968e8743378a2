//go:build linux

package serialport

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale"
)

// A flood (a wrong speed, a chattering cable, another device) of tens of megabytes
// grows nothing, is no weight, and the scale is understood behind it.
func TestInstrumentInAFlood(t *testing.T) {
	const flood = 30 << 20
	d := plug(t)
	b, i := start(t, "name=bench,port="+d.path+givenLine)
	b.await(t, "open", linked(scale.Waiting))
	junk := strings.Repeat("\x91\xfe0123456789.,+-ST g\x00", 3000)
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	begun := time.Now()
	for sent := 0; sent < flood; sent += len(junk) {
		d.send(t, junk)
	}
	took := time.Since(begun)
	runtime.GC()
	runtime.ReadMemStats(&after)
	d.send(t, "\r\n"+weight)
	b.await(t, "weight", weighs("123.45 g"))
	assert.Less(t, int64(after.HeapAlloc)-int64(before.HeapAlloc), int64(4<<20), "memory")
	var capture strings.Builder
	require.NoError(t, i.SaveCapture(&capture))
	assert.Less(t, strings.Count(capture.String(), "\n# +"), 100)
	t.Logf("%.1f MB a second", flood/1e6/took.Seconds())
}

// A board that resets when it is opened greets with a banner that has numbers in
// it ("CAS PD-II  Ver 1.00", from a public corpus of scale lines) and then begins in
// the middle of nothing.
func TestInstrumentOnABoardThatResets(t *testing.T) {
	for _, dtr := range []string{"", ",dtr=low"} {
		d := plug(t)
		b, _ := start(t, "name=bench,port="+d.path+givenLine+dtr)
		b.await(t, "open", linked(scale.Waiting))
		for range 3 {
			d.send(t, "\x00\xff\xf8CAS PD-II  Ver 1.00\r\nboot 120.7 g\r\n")
		}
		d.send(t, weight)
		u := b.await(t, "reading", func(u scale.Update) bool { return u.HasReading })
		assert.Equal(t, "123.45 g", u.Mass.String(), "nothing before it was a weight")
	}
}

// Two adapters that look alike, with no serial number between them, are told apart
// by where they are plugged in: each scale stays on its own link, and the words of
// one never come out of the other, whatever happens to that.
func TestTwoAlikeAdapters(t *testing.T) {
	dir := t.TempDir()
	links := [2]string{filepath.Join(dir, "by-path-1"), filepath.Join(dir, "by-path-2")}
	var ds [2]*device
	var bs [2]*bench
	for k := range ds {
		ds[k] = plug(t)
		require.NoError(t, os.Symlink(ds[k].path, links[k]))
		bs[k], _ = start(t, fmt.Sprintf("name=scale%d,port=%s%s", k, links[k], givenLine))
		bs[k].await(t, "open", linked(scale.Waiting))
	}
	ds[0].send(t, "\r\nST,+00111.11  g\r\n")
	ds[1].send(t, "\r\nST,+00222.22  g\r\n")
	bs[0].await(t, "weight", weighs("111.11 g"))
	bs[1].await(t, "weight", weighs("222.22 g"))
	require.NoError(t, os.Remove(links[0]))
	ds[0].unplug(t)
	bs[0].await(t, "lost", linked(scale.Lost))
	for range 10 {
		ds[1].send(t, "ST,+00222.22  g\r\n")
		bs[1].await(t, "weight", weighs("222.22 g"))
	}
	bs[0].mu.Lock()
	for _, u := range bs[0].all {
		assert.False(t, u.HasReading, "the other one's weight: %s", u.Mass)
	}
	bs[0].mu.Unlock()
	// It comes back under the number that the other had in mind.
	ds[0] = plug(t)
	require.NoError(t, os.Symlink(ds[0].path, links[0]))
	bs[0].await(t, "open", linked(scale.Waiting))
	ds[0].send(t, "\r\nST,+00111.12  g\r\n")
	bs[0].await(t, "weight", weighs("111.12 g"))
}

// From the moment that a device has its name again to its first weight, with the
// scale talking twenty times a second.
func BenchmarkRecovery(b *testing.B) {
	link := filepath.Join(b.TempDir(), "scale")
	bench, _ := start(b, "name=bench,port="+link+givenLine)
	var sum, slowest time.Duration
	n := 0
	for b.Loop() {
		b.StopTimer()
		m, s, err := pty.Open()
		require.NoError(b, err)
		path := s.Name()
		require.NoError(b, s.Close())
		stop, stopped := make(chan struct{}), make(chan struct{})
		go func() {
			defer close(stopped)
			tick := time.NewTicker(50 * time.Millisecond)
			defer tick.Stop()
			for {
				select {
				case <-stop:
					return
				case <-tick.C:
					_, _ = m.WriteString(weight)
				}
			}
		}()
		bench.await(b, "lost", linked(scale.Lost))
		b.StartTimer()
		at := time.Now()
		require.NoError(b, os.Symlink(path, link))
		bench.await(b, "weight", weighs("123.45 g"))
		took := time.Since(at)
		b.StopTimer()
		sum, slowest, n = sum+took, max(slowest, took), n+1
		require.NoError(b, os.Remove(link))
		close(stop)
		<-stopped
		require.NoError(b, m.Close())
		b.StartTimer()
	}
	b.ReportMetric(float64(sum.Milliseconds())/float64(n), "ms/recovery")
	b.ReportMetric(float64(slowest.Milliseconds()), "ms-slowest")
}

// day is a day of a scale that talks twenty times a second.
const day = 24 * 60 * 60 * 20

// BenchmarkDay gives an instrument on a pseudo-terminal the lines of a day as fast
// as they go, and tells what stays behind: nothing should.
func BenchmarkDay(b *testing.B) {
	d := plug(b)
	c, err := scale.ParseSpec("name=bench,port=" + d.path + givenLine)
	require.NoError(b, err)
	read, last := 0, make(chan struct{})
	opened := make(chan struct{}, 10)
	i := scale.New(c, Ports{}, func(u scale.Update) {
		switch {
		case !u.HasReading && u.Link == scale.Waiting:
			opened <- struct{}{}
		case u.HasMass:
			if read++; u.Reading.Value.String() == "999.99" {
				close(last)
			}
		}
	}, zerolog.Nop())
	before := struct{ routines, files int }{runtime.NumGoroutine(), descriptors(b)}
	done := make(chan error, 1)
	ctx, cancel := context.WithCancel(b.Context())
	go func() { done <- i.Run(ctx) }()
	<-opened
	heap := func() float64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc) / 1024
	}
	d.send(b, "\r\n")
	lines := 0
	burst := func(n int) {
		var s strings.Builder
		for range n {
			fmt.Fprintf(&s, "ST,+%05d.%02d  g\r\n", lines/100%900, lines%100)
			lines++
		}
		d.send(b, s.String())
	}
	burst(1000)
	start := heap()
	for b.Loop() {
		for range day / 100 {
			burst(100)
		}
	}
	grown := heap() - start
	d.send(b, "ST,+00999.99  g\r\n")
	<-last
	b.ReportMetric(float64(read)/b.Elapsed().Seconds(), "lines/s")
	b.ReportMetric(float64(lines+1-read), "lines-lost")
	b.ReportMetric(grown, "KiB-grown")
	cancel()
	require.NoError(b, <-done)
	b.ReportMetric(float64(runtime.NumGoroutine()-before.routines), "goroutines-left")
	b.ReportMetric(float64(descriptors(b)-before.files), "descriptors-left")
}
