//go:build unix

package main

import (
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A whole batch on a scale that speaks on its print key only: the container is
// printed, what is in it is printed, the container is printed again. Between the
// frames is silence for longer than a stream may be silent.
func TestWeighOnThePrintKey(t *testing.T) {
	t.Parallel()
	key, port, err := pty.Open()
	require.NoError(t, err)
	t.Cleanup(func() { key.Close(); port.Close() })
	press := func(digits string) {
		t.Helper()
		_, err := key.WriteString("ST,GS,+" + digits + "  g\r\n")
		require.NoError(t, err)
	}
	r := &rig{t: t, dir: t.TempDir()}
	r.args = []string{"weigh", writeFile(t, "recipe.txt", "Quartz 60\nWhiting 40\n"), "--base", "100g", "--json", "--data", r.dir, "--by", "Ilse",
		"--scale", "name=bench,port=" + port.Name() + ",format=header-comma-mode,baud=9600,print=yes,step=0.1g,max=2000g"}
	r.start()
	r.until("asked", func(v map[string]any) bool { return v["question"] == "reminder" })
	r.say("yes Ilse")
	r.state("container")
	// What comes before the port is open is dropped: like a person, press until it helps.
	taken, pressed := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(pressed)
		for {
			_, _ = key.WriteString("ST,GS,+00120.0  g\r\n")
			select {
			case <-taken:
				return
			case <-time.After(500 * time.Millisecond):
			}
		}
	}()
	r.until("tared", nil)
	close(taken)
	<-pressed
	r.state("pour")
	press("00165.0")
	press("00180.1")
	r.state("in")
	time.Sleep(3 * time.Second) // a stream that is silent for so long would be lost
	press("00120.1")
	p := r.until("portion", nil)
	assert.Equal(t, map[string]any{"g": "60.0"}, p["delivered"])
	assert.Equal(t, "in", p["verdict"])
	r.until("now", func(v map[string]any) bool { return v["material"] == "Whiting" && v["state"] == "pour" })
	press("00160.2")
	r.state("in")
	press("00000.0") // the pan was printed with the container off
	r.state("lifted")
	press("00120.2")
	p = r.until("portion", nil)
	assert.Equal(t, map[string]any{"g": "40.0"}, p["delivered"])
	r.until("finished", nil)
	require.NoError(t, ends(t, r.cmd), r.errs.String())
	assert.NotContains(t, strings.Join(r.kinds(), " "), "lost")
}
