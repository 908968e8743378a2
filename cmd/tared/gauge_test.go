//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"
)

// pan is a scale on a pseudo-terminal with a load that the test sets, and the
// commands that it was sent.
type pan struct {
	port     string
	load     atomic.Int64 // tenths of a gram
	commands chan string
}

func newPan(t *testing.T) *pan {
	master, slave, err := pty.Open()
	require.NoError(t, err)
	_, err = term.MakeRaw(int(slave.Fd())) // a serial line does not echo
	require.NoError(t, err)
	p := &pan{port: slave.Name(), commands: make(chan string, 10)}
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
			}
			g := p.load.Load()
			_, _ = fmt.Fprintf(master, "ST,GS,%+08.1f  g\r\n", float64(g)/10)
		}
	}()
	go func() {
		buf := make([]byte, 100)
		for {
			n, err := master.Read(buf)
			if err != nil {
				return
			}
			p.commands <- string(buf[:n])
		}
	}()
	t.Cleanup(func() { close(stop); <-stopped; master.Close(); slave.Close() })
	return p
}

func (p *pan) spec(more string) string {
	return "name=bench,port=" + p.port + ",format=header-comma-mode,baud=9600,max=2000g" + more
}

// follow puts the weight on and takes it off as the program says; nets are what it
// shows, in tenths of a gram.
func (p *pan) follow(r *rig, kind string, nets ...int64) map[string]any {
	for {
		v := r.await("now or "+kind, func(v map[string]any) bool { return v["kind"] == "now" || v["kind"] == kind })
		if v["kind"] == kind {
			return v
		}
		switch words := v["words"].(string); {
		case strings.HasPrefix(words, "Put"):
			require.NotEmpty(r.t, nets)
			p.load.Store(nets[0])
			nets = nets[1:]
		case strings.HasPrefix(words, "Take"):
			p.load.Store(0)
		}
	}
}

// A scale is checked at the terminal, its repeatability is measured, and the next
// batch is planned with it; the journal holds, and a batch's record is as it was.
func TestCheckAtTheTerminal(t *testing.T) {
	t.Parallel()
	p, dir := newPan(t), t.TempDir()
	run := func(args ...string) *rig {
		r := &rig{t: t, dir: dir, args: append([]string{"scales", "--json", "--data", dir, "--by", "Mara", "--scale", p.spec(",class=III,interval=0.1g")}, args...)}
		r.start()
		return r
	}
	r := run("--check", "bench=500g")
	v := p.follow(r, "checked", 5002)
	assert.Equal(t, true, v["pass"])
	assert.Equal(t, "Mara", v["by"])
	assert.Equal(t, map[string]any{"g": "0.3"}, v["allowed"], "class III at 5000 e, in service (OIML R 76-1 Table 6)")
	assert.Equal(t, map[string]any{"g": "0.2"}, v["deviation"])
	require.NoError(t, ends(t, r.cmd))

	p.load.Store(0)
	r = run("--check", "bench=500g")
	v = p.follow(r, "checked", 5004)
	assert.Equal(t, false, v["pass"])
	require.Error(t, ends(t, r.cmd), "a check that fails is a failure")
	assert.Contains(t, r.errs.String(), "failed the check")

	p.load.Store(0)
	r = run("--repeat", "bench=100g")
	v = p.follow(r, "repeatability", 1000, 1001, 1000, 999, 1000, 1000, 1001, 1000, 999, 1000)
	assert.Equal(t, map[string]any{"g": "0.066666667"}, v["spread"])
	assert.Len(t, v["shown"], 10)
	require.NoError(t, ends(t, r.cmd))

	got := runTared(t, "", "verify", "--data", dir)
	assert.Equal(t, exitDone, got.code, got.out+got.err)
	b, err := os.ReadFile(filepath.Join(dir, "journal.jsonl"))
	require.NoError(t, err)
	assert.Equal(t, 4, strings.Count(string(b), "\n"), "its beginning, and one line for each")

	// A plan and the next batch rest on what was measured: s with Student's t for ten
	// placings, and the span of the check that failed, as 'calc doubt --help' has it.
	recipe := writeFile(t, "plan.txt", "Quartz 60\nWhiting 40\n")
	for data, mark := range map[string]string{dir: "  0.19 g", t.TempDir(): " ~0.13 g", filepath.Join(t.TempDir(), "none"): " ~0.13 g"} {
		got := runTared(t, "", "plan", recipe, "--base", "100g", "--scale", "name=bench,step=0.1g,max=2000g", "--data", data)
		require.Equal(t, exitDone, got.code, got.err)
		assert.Contains(t, got.out, mark)
	}
	r = &rig{t: t, dir: dir, args: []string{"weigh", writeFile(t, "recipe.txt", "Quartz 60\nWhiting 40\n"), "--base", "100g", "--json", "--data", dir, "--by", "Ilse",
		"--scale", p.spec("")}}
	r.start()
	planned := r.until("planned", nil)
	sc := planned["scales"].([]any)[0].(map[string]any)
	assert.Equal(t, map[string]any{"g": "0.066666667"}, sc["spread"])
	assert.NotEqual(t, true, sc["assumed"])
	require.NoError(t, r.cmd.Process.Kill())
	_ = r.cmd.Wait()

	// The record and the list of batches are not disturbed by facts of no batch.
	got = runTared(t, "", "record", "--data", dir, "--json")
	require.Equal(t, exitDone, got.code, got.out+got.err)
	assert.Equal(t, 1, strings.Count(strings.TrimSpace(got.out), "\n")+1, got.out)
	assert.True(t, json.Valid([]byte(strings.TrimSpace(got.out))))
}

func TestTellAScale(t *testing.T) {
	t.Parallel()
	p := newPan(t)
	got := runTared(t, "", "scales", "--data", t.TempDir(), "--scale", p.spec(""), "--zero", "bench")
	// The manual of this format documents neither command.
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "no command to zero is documented for header-comma-mode; press the key on the scale")
	for c := range p.sent() {
		t.Errorf("it was sent %q", c)
	}
	got = runTared(t, "", "scales", "--data", t.TempDir(), "--zero", "bench", "--scale", strings.Replace(p.spec(""), "header-comma-mode", "letter-status", 1))
	assert.Equal(t, exitDone, got.code, got.out+got.err)
	select {
	case sent := <-p.commands:
		assert.Equal(t, "Z\r\n", sent)
	case <-time.After(patience(t)):
		require.Fail(t, "nothing was sent to the scale", "%s%s", got.out, got.err)
	}
}

func (p *pan) sent() map[string]bool {
	all := map[string]bool{}
	for {
		select {
		case c := <-p.commands:
			all[c] = true
		default:
			return all
		}
	}
}

func TestCheckWords(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--check", "bench"}, "give the name of a scale and the mass of the weight, for example bench=500g"},
		{[]string{"--check", "bench=500g"}, "no --scale is called bench"},
		{[]string{"--zero", "bench=1g", "--scale", "name=bench,port=x"}, "give the name of a scale, for example bench"},
		{[]string{"--check", "bench=500g", "--repeat", "bench=500g"}, "one at a time"},
		{[]string{"--check", "fine=500g", "--scale", "name=fine,port=eye,step=0.1g"}, "read by eye"},
		{[]string{"--scale", "name=bench,port=x"}, "--scale needs one of"},
		{[]string{"/dev/x", "--check", "bench=5g"}, "a check is of one scale"},
		{[]string{"--check", "bench=5", "--scale", "name=bench,port=/nowhere"}, "no unit"},
	} {
		got := runTared(t, "", append([]string{"scales", "--data", t.TempDir()}, c.args...)...)
		assert.Equal(t, exitUsage, got.code, c.args)
		assert.Contains(t, got.err, c.want)
	}
}
