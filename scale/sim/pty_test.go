//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package sim

import (
	"bufio"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// ptyLine opens a line on a pseudo-terminal, or skips where the machine has none.
func ptyLine(t *testing.T, o LineOptions) (*World, *Line) {
	t.Helper()
	if o.Clock.speed == 0 {
		o.Clock = fastClock(t, 20)
	}
	w, err := NewWorld(1, o.Clock.Start(), Place{"bench", quiet(100 * time.Millisecond), 100})
	require.NoError(t, err)
	src, err := w.Scale("bench")
	require.NoError(t, err)
	l, err := NewLine(src, o)
	if err != nil {
		t.Skip("no pseudo-terminal here: ", err)
	}
	return w, l
}

func TestPTYRoundTripAndReplug(t *testing.T) {
	noLeak(t, func() {
		link := linkIn(t)
		w, l := ptyLine(t, LineOptions{Format: "header-comma", Rate: 10, Link: link})
		stop := running(t, l)
		require.Equal(t, link, l.Path())
		first, err := os.Readlink(link)
		require.NoError(t, err)

		f, err := os.OpenFile(link, os.O_RDWR, 0)
		require.NoError(t, err)
		r := bufio.NewReader(f)
		line, err := r.ReadString('\n')
		require.NoError(t, err)
		assert.Equal(t, "ST,+000000.0  g\r\n", line)
		require.NoError(t, w.Do(Action{At: l.opt.Clock.Now(), Scale: "bench", Verb: Put}))
		seen := map[string]bool{}
		for n := 0; !seen["ST,+000100.0  g\r\n"]; n++ {
			require.Less(t, n, 2000, "100 g never came: %v", seen)
			line, err := r.ReadString('\n')
			require.NoError(t, err)
			require.Len(t, line, 17, "no byte changed or lost: %q", line)
			seen[line] = true
		}

		require.NoError(t, l.Unplug())
		_, err = os.Lstat(link)
		assert.ErrorIs(t, err, os.ErrNotExist)
		for err = nil; err == nil; {
			_, err = r.ReadString('\n')
		}
		require.NoError(t, f.Close())

		require.NoError(t, l.Replug())
		f, err = os.OpenFile(link, os.O_RDWR, 0)
		require.NoError(t, err)
		line, err = bufio.NewReader(f).ReadString('\n')
		require.NoError(t, err)
		assert.Equal(t, "ST,+000100.0  g\r\n", line)
		require.NoError(t, f.Close())
		stop()
		_, err = os.Lstat(link)
		assert.ErrorIs(t, err, os.ErrNotExist)
		assert.NotEmpty(t, first)
	})
}

func TestPTYNeverWaitsForAReader(t *testing.T) {
	_, l := ptyLine(t, LineOptions{Format: "header-comma", Rate: 100, Clock: fastClock(t, 50)})
	stop := running(t, l)
	// Nobody reads. The line must go on, and then stop at once.
	require.Eventually(t, func() bool { _, dropped := l.Counts(); return dropped > 50 }, 2*time.Minute, time.Millisecond, "nobody reads, so frames are lost")
	f, err := os.OpenFile(l.Path(), os.O_RDWR, 0)
	require.NoError(t, err)
	defer f.Close()
	r := bufio.NewReader(f)
	said, _ := l.Counts()
	for range 3 * ptyRoom / 17 { // through what waited, and beyond
		line, err := r.ReadString('\n')
		require.NoError(t, err)
		require.Equal(t, "ST,+000000.0  g\r\n", line, "whole frames only")
	}
	now, _ := l.Counts()
	assert.Greater(t, now, said, "it speaks on when somebody reads")
	stop()
}

func TestPTYHearsCommands(t *testing.T) {
	w, l := ptyLine(t, LineOptions{Format: "header-comma", Clock: fastClock(t, 20)})
	if l.ask == nil || len(l.ask.Tare) == 0 {
		require.NoError(t, l.Close())
		t.Skip("the format has no tare command")
	}
	running(t, l)
	f, err := os.OpenFile(l.Path(), os.O_RDWR, 0)
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, w.Do(Action{At: l.opt.Clock.Now(), Scale: "bench", Verb: Put}))
	r := bufio.NewReader(f)
	until := func(want string) {
		t.Helper()
		for range 2000 {
			line, err := r.ReadString('\n')
			require.NoError(t, err)
			if line == want {
				return
			}
		}
		t.Fatalf("%q never came", want)
	}
	until("ST,+000100.0  g\r\n")
	_, err = f.Write(l.ask.Tare)
	require.NoError(t, err)
	until("ST,+000000.0  g\r\n")
}

func TestPTYUnplugUnderLoad(t *testing.T) {
	noLeak(t, func() {
		link := linkIn(t)
		_, l := ptyLine(t, LineOptions{Format: "header-comma", Rate: 100, Clock: fastClock(t, 20), Link: link})
		stop := running(t, l)
		for range 20 {
			f, err := os.OpenFile(link, os.O_RDWR, 0)
			require.NoError(t, err)
			_, err = bufio.NewReader(f).ReadString('\n')
			require.NoError(t, err)
			require.NoError(t, l.Unplug())
			require.NoError(t, f.Close())
			require.NoError(t, l.Replug())
		}
		stop()
	})
}

func TestLinkIsNotLaidOverAFile(t *testing.T) {
	link := linkIn(t)
	require.NoError(t, os.WriteFile(link, []byte("mine"), 0o600))
	w := testWorld(t, 1)
	src, err := w.Scale("bench")
	require.NoError(t, err)
	_, err = NewLine(src, LineOptions{Format: "header-comma", Link: link})
	require.ErrorContains(t, err, "not a link")
	b, err := os.ReadFile(link)
	require.NoError(t, err)
	assert.Equal(t, "mine", string(b))
}
