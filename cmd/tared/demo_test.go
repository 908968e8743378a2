//go:build unix

package main

import (
	"bufio"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
)

// The demo mixes a batch by itself, through ports and parsers, and its record
// holds.
func TestDemoAuto(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	got := runTared(t, "", "demo", "--auto", "--speed", "5", "--data", dir, "--listen", "127.0.0.1:0")
	require.Equal(t, exitDone, got.code, got.out+got.err)
	assert.Contains(t, got.out, dir, "it says where the records are")
	assert.Contains(t, got.out, "http://127.0.0.1:")
	assert.Contains(t, got.out, "simulated", "simulated weights say so")
	assert.Contains(t, got.out, "Copper carbonate")

	list := runTared(t, "", "record", "--data", dir, "--json")
	require.Equal(t, exitDone, list.code, list.err)
	var row struct {
		Mark, State string
		Done, Of    int
		Simulated   bool
	}
	require.NoError(t, json.Unmarshal([]byte(list.out), &row))
	assert.Equal(t, "finished", row.State)
	assert.Equal(t, 7, row.Of)
	assert.Equal(t, row.Of, row.Done)
	assert.True(t, row.Simulated)
	one := runTared(t, "", "record", row.Mark, "--data", dir, "--json")
	require.Equal(t, exitDone, one.code, one.err)
	var made struct {
		Hash  string
		Lines []struct{ Scale, Material string }
	}
	require.NoError(t, json.Unmarshal([]byte(one.out), &made))
	scales := map[string]bool{}
	for _, l := range made.Lines {
		scales[l.Scale] = true
	}
	assert.Len(t, scales, 2, "both scales had their turn")
	assert.Contains(t, got.out, made.Hash, "the record that it printed is the one in the journal")
	checkChain(t, dir, made.Hash)
}

// daemon is a program that serves a page until it is told to end.
type daemon struct {
	cmd  *exec.Cmd
	url  string
	said chan string
}

func startDaemon(t *testing.T, args ...string) *daemon {
	t.Helper()
	d := &daemon{cmd: endsWithUs(exec.Command(program, args...)), said: make(chan string, 100)}
	d.cmd.Env = cleanEnv(t)
	d.cmd.Stderr = os.Stderr
	out, err := d.cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, d.cmd.Start())
	t.Cleanup(func() { _ = d.cmd.Process.Kill() })
	urls := make(chan string, 1)
	go func() {
		defer close(d.said)
		for s := bufio.NewScanner(out); s.Scan(); {
			if _, rest, ok := strings.Cut(s.Text(), "http://"); ok {
				select {
				case urls <- "http://" + strings.Fields(rest)[0]:
				default:
				}
			}
			select {
			case d.said <- s.Text():
			default:
			}
		}
	}()
	select {
	case d.url = <-urls:
	case <-time.After(patience(t)):
		require.Fail(t, "no page was served", "by tared %s", strings.Join(args, " "))
	}
	return d
}

// end asks it to end as a service manager does, and gives the exit code.
func (d *daemon) end(t *testing.T) int {
	t.Helper()
	require.NoError(t, d.cmd.Process.Signal(syscall.SIGTERM))
	_ = ends(t, d.cmd)
	return d.cmd.ProcessState.ExitCode()
}

func fetch(t *testing.T, url string) (int, string) {
	t.Helper()
	res, err := http.Get(url)
	require.NoError(t, err)
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res.StatusCode, string(b)
}

// benchView is what the bench at that address shows now.
func benchView(t *testing.T, url string) (v session.View) {
	t.Helper()
	_, body := fetch(t, url+"api/view")
	require.NoError(t, json.Unmarshal([]byte(body), &v), body)
	return v
}

func send(t *testing.T, url, body string) {
	t.Helper()
	res, err := http.Post(url, "application/json", strings.NewReader(body))
	require.NoError(t, err)
	defer res.Body.Close()
	said, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Less(t, res.StatusCode, 300, "%s: %s", url, said)
}

func TestDemoServesUntilItIsTold(t *testing.T) {
	t.Parallel()
	d := startDaemon(t, "demo", "--listen", "127.0.0.1:0", "--data", t.TempDir())
	code, body := fetch(t, d.url)
	assert.Equal(t, http.StatusOK, code)
	assert.Contains(t, body, "<html")

	// The hands on the page reach the bench through pseudo-terminal, port and parser.
	var hands []struct {
		Scale string
		Moves []struct{ Do string }
	}
	_, body = fetch(t, d.url+"api/hands")
	require.NoError(t, json.Unmarshal([]byte(body), &hands), body)
	require.Len(t, hands, 2)
	limit := time.Now().Add(patience(t))
	until := func(state, why string) {
		for !strings.Contains(body, `"state":"`+state+`"`) {
			require.True(t, time.Now().Before(limit), "%s: %s", why, body)
			time.Sleep(50 * time.Millisecond) // the pan settles in real time
			_, body = fetch(t, d.url+"api/view")
		}
	}
	until("reminder", "the demo never began its batch")
	send(t, d.url+"api/do", `{"word":"yes","rest":"Ilse"}`)
	send(t, d.url+"api/hands", `{"scale":"bench","do":"put"}`)
	until("pour", "the container was never tared")
	assert.Equal(t, exitDone, d.end(t), "Ctrl-C is the usual end of a demo")
}

// Without --listen a second demo on the same machine finds a port of its own.
func TestDemoBesideAnother(t *testing.T) {
	t.Parallel()
	// Where somebody has the port already that serves as well, as long as it lasts.
	for try := 1; ; try++ {
		ln, err := net.Listen("tcp", "127.0.0.1:7410")
		d := startDaemon(t, "demo", "--data", t.TempDir())
		if err == nil {
			require.NoError(t, ln.Close())
		}
		assert.Equal(t, exitDone, d.end(t))
		if err == nil || try == 10 || !strings.Contains(d.url, ":7410") {
			assert.NotContains(t, d.url, ":7410")
			break
		}
	}

	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer ln.Close()
	got := runTared(t, "", "serve", "--listen", ln.Addr().String(), "--data", t.TempDir(), "--scale", "name=fine,port=eye,step=0.01g")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "--listen 127.0.0.1:0", "an address that is taken is named, with a way out")
}

// A scale that is not there never stops the page.
func TestServeWithoutItsScale(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error",
		"--scale", "name=bench,port=/dev/no-such-port,step=0.1g,max=2000g", "--scale", "name=fine,port=eye,step=0.01g,max=300g")
	code, _ := fetch(t, d.url)
	assert.Equal(t, http.StatusOK, code)

	second := runTared(t, "", "serve", "--listen", "127.0.0.1:0", "--data", dir, "--scale", "name=fine,port=eye,step=0.01g")
	assert.Equal(t, exitFailed, second.code, "two daemons must not write one journal")
	assert.Contains(t, second.err, "another tared")

	assert.Equal(t, exitDone, d.end(t))
	info, err := os.Stat(filepath.Join(dir, pairingKeyName))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "the pairing key is nobody else's business")
}

// A damaged journal: weigh refuses, serve shows the page and records
// nothing.
func TestDamagedJournal(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	bad := `{"seq":1,"at":"2026-11-25T10:00:00Z","kind":"noted","batch":"","by":"Mara","prev":"` + strings.Repeat("f", 64) + `","text":"x"}` + "\n"
	path := filepath.Join(dir, "journal.jsonl")
	require.NoError(t, os.WriteFile(path, []byte(bad), 0o600))
	eye := "name=fine,port=eye,step=0.01g,max=300g"
	got := runTared(t, "yes Mara\n", "weigh", writeFile(t, "r.txt", tidewrack), "--base", "100g", "--data", dir, "--scale", eye)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "line 1")
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error", "--scale", eye)
	code, body := fetch(t, d.url+"api/view")
	assert.Equal(t, http.StatusOK, code)
	assert.Contains(t, body, `"recording":{"ok":false`, "the page says at once that nothing is recorded")
	assert.Equal(t, exitDone, d.end(t))
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, bad, string(after), "damage is left exactly as it is")
}
