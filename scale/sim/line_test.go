package sim

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// running starts a line and gives a function that ends it and waits for it.
func running(t testing.TB, l *Line) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- l.Run(ctx) }()
	ended := false
	stop = func() {
		if ended {
			return
		}
		ended = true
		cancel()
		require.NoError(t, <-done)
	}
	t.Cleanup(stop)
	return stop
}

func fastClock(t testing.TB, speed float64) Clock {
	t.Helper()
	c, err := NewClock(speed)
	require.NoError(t, err)
	return c
}

func TestPipeSpeaksAtItsRate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fastClock(t, 20)
		w, err := NewWorld(1, c.Start(), Place{"bench", quiet(100 * time.Millisecond), 100})
		require.NoError(t, err)
		src, err := w.Scale("bench")
		require.NoError(t, err)
		l, err := NewLine(src, LineOptions{Format: "header-comma", Rate: 10, Clock: c, Pipe: true})
		require.NoError(t, err)
		stop := running(t, l)
		p, err := l.Open()
		require.NoError(t, err)
		require.NoError(t, w.Do(Action{At: c.Now().Add(2 * time.Second), Scale: "bench", Verb: Put}))

		var got []byte
		buf := make([]byte, 4096)
		for end := time.Now().Add(time.Second); time.Now().Before(end); {
			n, err := p.Read(buf)
			require.NoError(t, err)
			got = append(got, buf[:n]...)
		}
		lines := strings.SplitAfter(string(got), "\r\n")
		// A second on the wall is twenty on the clock: two hundred lines.
		assert.InDelta(t, 200, len(lines), 2)
		assert.Equal(t, "ST,+000000.0  g\r\n", lines[0])
		assert.Equal(t, "ST,+000100.0  g\r\n", lines[len(lines)-2])

		stop()
		_, err = p.Read(buf)
		assert.ErrorIs(t, err, os.ErrClosed)
		_, err = l.Open()
		assert.ErrorContains(t, err, "unplugged")
	})
}

func TestPipeReadWaitsLikeAPort(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fastClock(t, 1)
		w, err := NewWorld(1, c.Start(), Place{"bench", quiet(0), 100})
		require.NoError(t, err)
		src, err := w.Scale("bench")
		require.NoError(t, err)
		l, err := NewLine(src, LineOptions{Format: "bare-number", Rate: 1, Clock: c, Pipe: true})
		require.NoError(t, err)
		running(t, l)
		p, err := l.Open()
		require.NoError(t, err)
		began := time.Now()
		n, err := p.Read(make([]byte, 10))
		assert.NoError(t, err)
		assert.Zero(t, n)
		assert.Equal(t, readWait, time.Since(began))

		// Nobody reads for ten minutes: whole frames are lost, and no half one is found.
		time.Sleep(10 * time.Minute)
		said, dropped := l.Counts()
		assert.Positive(t, said)
		assert.Positive(t, dropped)
		buf := make([]byte, 2*pipeRoom)
		n, err = p.Read(buf)
		require.NoError(t, err)
		assert.LessOrEqual(t, n, pipeRoom)
		for _, line := range strings.SplitAfter(strings.TrimSuffix(string(buf[:n]), "\r\n"), "\r\n") {
			assert.Equal(t, "+0000000.0", strings.TrimSuffix(line, "\r\n"))
		}
		require.NoError(t, p.Close())
	})
}

func TestPipeUnplug(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fastClock(t, 1)
		w, err := NewWorld(1, c.Start(), Place{"bench", quiet(0), 100})
		require.NoError(t, err)
		src, err := w.Scale("bench")
		require.NoError(t, err)
		l, err := NewLine(src, LineOptions{Format: "header-comma", Clock: c, Pipe: true})
		require.NoError(t, err)
		running(t, l)
		p, err := l.Open()
		require.NoError(t, err)
		// By the world's hands ...
		require.NoError(t, w.Do(Action{At: c.Now(), Scale: "bench", Verb: Unplug}))
		time.Sleep(time.Second)
		for err == nil {
			_, err = p.Read(make([]byte, 100))
		}
		assert.ErrorIs(t, err, os.ErrClosed)
		_, err = l.Open()
		require.Error(t, err)
		require.NoError(t, w.Do(Action{At: c.Now(), Scale: "bench", Verb: Replug}))
		time.Sleep(time.Second)
		p, err = l.Open()
		require.NoError(t, err)
		time.Sleep(time.Second)
		n, err := p.Read(make([]byte, 100))
		require.NoError(t, err)
		assert.Positive(t, n)
		// ... and by the line itself.
		require.NoError(t, l.Unplug())
		time.Sleep(time.Second)
		_, err = l.Open()
		require.Error(t, err, "it stays unplugged")
		require.NoError(t, l.Replug())
		_, err = l.Open()
		require.NoError(t, err)
	})
}

// TestLineObeysCommands gives a line commands as a format would declare them.
func TestLineObeysCommands(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fastClock(t, 1)
		w, err := NewWorld(1, c.Start(), Place{"bench", quiet(0), 100})
		require.NoError(t, err)
		src, err := w.Scale("bench")
		require.NoError(t, err)
		l, err := NewLine(src, LineOptions{Format: "header-comma", Rate: 10, Clock: c, Pipe: true})
		require.NoError(t, err)
		l.opt.OnAsk = true
		l.ask = &protocol.Ask{Weight: []byte("Q\r\n"), Tare: []byte("T\r\n"), Zero: []byte("Z\r\n")}
		running(t, l)
		p, err := l.Open()
		require.NoError(t, err)
		read := func() string {
			buf := make([]byte, 100)
			n, err := p.Read(buf)
			require.NoError(t, err)
			return string(buf[:n])
		}
		require.NoError(t, w.Do(Action{At: c.Now(), Scale: "bench", Verb: Put}))
		time.Sleep(5 * time.Second)
		assert.Empty(t, read(), "it speaks only when asked")
		for _, piece := range []string{"?", "Q", "\r", "\n"} { // a stray byte, and the command in pieces
			_, err = io.WriteString(p, piece)
			require.NoError(t, err)
			time.Sleep(20 * time.Millisecond)
		}
		assert.Equal(t, "ST,+000100.0  g\r\n", read())
		_, err = io.WriteString(p, "T\r\nQ\r\n")
		require.NoError(t, err)
		read()
		time.Sleep(time.Second)
		_, err = io.WriteString(p, "Q\r\n")
		require.NoError(t, err)
		assert.Equal(t, "ST,+000000.0  g\r\n", read())
		assert.Equal(t, protocol.Net, w.Show("bench", c.Now()).Mode)
	})
}

func TestNewLineRefuses(t *testing.T) {
	w := testWorld(t, 1)
	src, err := w.Scale("bench")
	require.NoError(t, err)
	_, err = w.Scale("third")
	assert.ErrorContains(t, err, "bench, fine")
	_, err = NewLine(src, LineOptions{Format: "no-such", Pipe: true})
	assert.ErrorContains(t, err, "no-such")
	_, err = NewLine(src, LineOptions{Format: "bare-number", Rate: 1000, Pipe: true})
	assert.ErrorContains(t, err, "rate")
	_, err = NewClock(0)
	assert.ErrorContains(t, err, "speed")
	l, err := NewLine(src, LineOptions{Format: "bare-number", Pipe: true})
	require.NoError(t, err)
	require.NoError(t, l.Close())
	assert.Error(t, l.Replug(), "it has ended")
}

func TestTerminator(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fastClock(t, 1)
		w, err := NewWorld(1, c.Start(), Place{"bench", quiet(0), 100})
		require.NoError(t, err)
		src, err := w.Scale("bench")
		require.NoError(t, err)
		l, err := NewLine(src, LineOptions{Format: "header-comma", Clock: c, Pipe: true, Terminator: "\r"})
		require.NoError(t, err)
		running(t, l)
		p, err := l.Open()
		require.NoError(t, err)
		buf := make([]byte, 100)
		n, err := p.Read(buf)
		require.NoError(t, err)
		assert.Equal(t, "ST,+000000.0  g\r", string(buf[:n]))
	})
}

// noLeak runs f and waits until no goroutine of it is left.
func noLeak(t *testing.T, f func()) {
	before := runtime.NumGoroutine()
	f()
	for end := time.Now().Add(time.Minute); runtime.NumGoroutine() > before && time.Now().Before(end); {
		runtime.Gosched()
	}
	assert.LessOrEqual(t, runtime.NumGoroutine(), before, "goroutines are left")
}

func TestRunnerMixesOverPipes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := fastClock(t, 20)
		w, err := NewWorld(3, c.Start(), Place{"bench", Bench(), 140}, Place{"fine", Fine(), 22})
		require.NoError(t, err)
		b := &testBench{marks: testMarks[2:], base: map[string]protocol.Mass{}, stands: map[string]bool{}, wantsReminder: true}
		r := Runner{
			World: w, Clock: c, Auto: NewAuto(AutoOptions{Seed: 3, Potter: Steady(), By: "Ilse"}),
			Guide: func() (Guidance, bool) {
				now := c.Now()
				return b.hear(now, func(s string) Shown { return w.Show(s, now) }), true
			},
			Say: func(_ context.Context, word string) error {
				assert.Equal(t, "yes Ilse", word)
				b.wantsReminder = false
				return nil
			},
		}
		began := time.Now()
		require.NoError(t, r.Run(t.Context()))
		t.Logf("mixed in %s at speed 20", time.Since(began))
		assert.InDelta(t, 45, w.Bucket("zinc oxide"), 0.4+0.3)
		assert.InDelta(t, 1.5, w.Bucket("cobalt oxide"), 0.03+0.08)
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		r.Auto = NewAuto(AutoOptions{})
		assert.ErrorIs(t, r.Run(ctx), context.Canceled)
		assert.Error(t, Runner{}.Run(ctx))
	})
}

func TestHandsDoEveryWord(t *testing.T) {
	w := testWorld(t, 1)
	h := NewHands(w, Steady(), Free(), 1)
	now := epoch.Add(time.Second)
	do := func(word string, missing float64) {
		t.Helper()
		require.NoError(t, h.Do(now, Order{Scale: "bench", Word: word, Material: "quartz", Missing: missing}))
	}
	wait := func(s float64) Shown {
		now = now.Add(seconds(s))
		return w.Show("bench", now)
	}
	do("put", 0)
	assert.InDelta(t, 140, gramsShown(wait(6)), 0.15)
	do("pour", 100)
	wait(12)
	in, on := w.Inside("bench")
	assert.True(t, on)
	assert.InDelta(t, 95, in, 25)
	do("pinch", 0)
	wait(4)
	more, _ := w.Inside("bench")
	assert.InDelta(t, 0.5, more-in, 0.35)
	do("spoon-out", -10)
	wait(4)
	less, _ := w.Inside("bench")
	assert.InDelta(t, 10, more-less, 3)
	assert.InDelta(t, 10, w.Waste(), 3)
	do("spoon-lay", 0)
	assert.InDelta(t, 140+less+24.6, gramsShown(wait(6)), 0.3)
	do("spoon-take", 0)
	do("knock", 0)
	do("draught", 0)
	do("lean", 0)
	assert.Greater(t, gramsShown(wait(1)), 145+less)
	assert.InDelta(t, 140+less, gramsShown(wait(20)), 0.3)
	do("tip-and-return", 0)
	shown := wait(12)
	in, on = w.Inside("bench")
	assert.True(t, on)
	assert.InDelta(t, less-in, w.Bucket("quartz"), 1e-9)
	assert.Less(t, in, 0.2)
	assert.InDelta(t, 140+in, gramsShown(shown), 0.2)
	do("tare-key", 0)
	assert.Equal(t, protocol.Net, wait(3).Mode)
	do("unit-key", 0)
	assert.Equal(t, protocol.UnitKilogram, wait(1).Unit)
	do("lift", 0)
	wait(3)
	do("tip", 0)
	do("return", 0)
	do("pour", 0)
	do("stop", 0)
	do("zero-key", 0)
	wait(5)
	do("unplug", 0)
	assert.False(t, wait(1).Cable)
	do("replug", 0)
	assert.True(t, wait(1).Cable)
	do("power-key", 0)
	assert.True(t, wait(1).Silent)
	for _, word := range h.Words() {
		assert.NoError(t, h.Do(now, Order{Scale: "fine", Word: word}), word)
	}
	assert.ErrorContains(t, h.Do(now, Order{Scale: "bench", Word: "juggle"}), "tip-and-return")
	assert.ErrorContains(t, h.Do(now, Order{Scale: "third", Word: "put"}), "bench, fine")
	assert.Error(t, w.Do(Action{Scale: "bench", Verb: Say}))
}

func gramsShown(s Shown) float64 {
	m, err := s.Value.Mass(s.Unit)
	if err != nil {
		return -1e9
	}
	return gramsOf(m)
}

// linkIn gives a place for a link.
func linkIn(t *testing.T) string { return filepath.Join(t.TempDir(), "bench-scale") }
