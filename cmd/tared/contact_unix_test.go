//go:build unix

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"
)

// plugIn gives the port of an odd scale: a real pseudo-terminal, at which it says its line
// ten times a second.
func plugIn(t *testing.T, o *oddity) (port string) {
	t.Helper()
	master, slave, err := pty.Open()
	require.NoError(t, err)
	_, err = term.MakeRaw(int(slave.Fd()))
	require.NoError(t, err)
	stop, gone := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(gone)
		for {
			select {
			case <-stop:
				return
			case <-time.After(100 * time.Millisecond):
				_, _ = master.WriteString(o.said())
			}
		}
	}()
	go func() { // what nobody reads must not hold it up
		<-stop
		_ = slave.Close()
		_ = master.Close()
	}()
	t.Cleanup(func() { close(stop); <-gone })
	return slave.Name()
}

// Within three seconds the command says that text comes in no known format, with the text
// itself and how it could be read, and never that the scale is silent.
func TestScalesTellsUnknownTextSoon(t *testing.T) {
	port := plugIn(t, &oddity{line: "WT< %7.1f>gram\r\n"})
	var took time.Duration
	for range 5 { // another program may have had the processor
		begun := time.Now()
		got := runTared(t, "", "scales", port)
		took = time.Since(begun)
		require.Equal(t, exitFailed, got.code, got.err)
		assert.Contains(t, got.out, "Text comes, but in no format that tared knows")
		assert.Contains(t, got.out, "WT<     0.0>gram")
		assert.Contains(t, got.out, "It can be read so: 0.0")
		assert.Contains(t, got.out, "--set-up")
		for _, wrong := range []string{"sends nothing", "silent", "step="} {
			assert.NotContains(t, got.out, wrong)
		}
		assert.NotContains(t, got.err, "Listening", "no progress where no terminal is")
		if took < 3*time.Second {
			break
		}
	}
	assert.Less(t, took, 3*time.Second)
	got := runTared(t, "", "scales", port, "--json")
	assert.Contains(t, got.out, `"reads":"0.0"`)
	assert.Contains(t, got.out, `"lines":["WT`)
}

// At a terminal the command asks, Enter alone takes the first answer, and a scale that no
// format knows is set up with a known weight.
func TestAScaleOfNoFormatIsSetUpAtTheTerminal(t *testing.T) {
	t.Parallel()
	o := &oddity{line: "%8.1f\r\n"}
	port := plugIn(t, o)
	file, data := filepath.Join(t.TempDir(), configName), t.TempDir()
	require.NoError(t, os.WriteFile(file, []byte("# kept\n"), 0o640))
	require.NoError(t, os.Chmod(file, 0o640))
	cmd, seen, until, key := atTerminal(t, "scales", port, "--config", file, "--data", data)
	enter := func(words string) { key(words + "\r") }
	until("Set this scale up now?")
	enter("")
	until("Which unit does the display show?")
	enter("oz")
	until("How heavy is the weight")
	enter("")
	until("Put 500 g on.")
	o.tenths.Store(5000)
	until("the lines say 14174.76")
	o.tenths.Store(0)
	enter("")
	require.Eventually(t, func() bool { return strings.Count(seen.all(), "Which unit does the display show?") == 2 }, patience(t), 20*time.Millisecond)
	enter("")
	require.Eventually(t, func() bool { return strings.Count(seen.all(), "How heavy is the weight") == 2 }, patience(t), 20*time.Millisecond)
	enter("500g")
	require.Eventually(t, func() bool { return strings.Count(seen.all(), "Put 500 g on.") == 2 }, patience(t), 20*time.Millisecond)
	o.tenths.Store(5001)
	until("The lines are read right.")
	until("What is the scale called?")
	enter("my scale")
	until("is not a name")
	enter("")
	until("Written into")
	require.NoError(t, ends(t, cmd), seen.all())
	c, err := readConfig(file)
	require.NoError(t, err)
	assert.Equal(t, []string{"format=bench-lines,name=bench,port=" + port}, c.lists()["scale"])
	require.Len(t, c.formats, 1)
	info, err := os.Stat(file)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), info.Mode().Perm())

	// And the bench weighs with it.
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", data, "--log", "error", "--config", file)
	require.Eventually(t, func() bool {
		_, view := fetch(t, d.url+"api/view")
		return strings.Contains(view, `"shows":"500.1"`)
	}, patience(t), 50*time.Millisecond)

	// A second scale joins the bench that runs.
	second := plugIn(t, &oddity{line: "WT< %7.1f>gram\r\n"})
	got := runTared(t, "\n\n10g\n", "scales", second, "--set-up", "--config", file, "--data", data)
	assert.Equal(t, exitFailed, got.code, "no weight was put on: %s%s", got.out, got.err)
	assert.Contains(t, got.err, "nothing was written")
	c, err = readConfig(file)
	require.NoError(t, err)
	assert.Len(t, c.formats, 1)
	require.Equal(t, exitDone, d.end(t))
}
