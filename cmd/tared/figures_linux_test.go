package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/require"
)

// The figures that are about the whole program, on Linux, which tells what a
// process uses. Run them with go test ./cmd/tared -run xxx -bench Idle.

// idleFor is how long a process is looked at: long enough for a tenth of a
// percent to be more than one slice of time.
const idleFor = 20 * time.Second

// BenchmarkIdle looks at the program while a scale says ten lines a second and
// twenty pages watch, beside the plain bridge of BenchmarkLineToView, a process
// of its own too, on the same machine at the same time. The scale stands still,
// or shows another weight with every line.
//
// 26 November 2026, two processors of a virtual machine (AMD EPYC), Linux, Go 1.26,
// little else running: still 1.19 % of a processor, bridge 0.95 to 1.06, above it 0.13
// to 0.25; moving 0.5 to 0.8 above it. Resident 19.4 to 19.6 MiB, of which some 12.7
// are program text; the bridge 16.9 to 17.2. Half of what is used is the runtime's own
// watch: it stays awake for ten milliseconds after each line of the scale.
func BenchmarkIdle(b *testing.B) {
	for _, name := range []string{"still", "moving"} {
		b.Run(name, func(b *testing.B) { idle(b, name == "moving") })
	}
}

func idle(b *testing.B, moving bool) {
	ours, bridge := openCable(b), openCable(b)
	us := startServe(b, ours.slave.Name())
	them := startBridge(b, bridge.slave.Name())
	post(b, us.http+"/api/start", `{"recipe":"Quartz 60\nWhiting 40\n","base":"750g","by":"Mara"}`)
	post(b, us.http+"/api/do", `{"word":"yes","rest":"Mara"}`)
	got := [2]*atomic.Int64{listenAll(b, us.ws, 20), listenAll(b, them.ws, 20)}
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		tick := time.NewTicker(100 * time.Millisecond)
		defer tick.Stop()
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			g := 0.0
			if moving {
				g = float64(n%3000) / 10
			}
			for _, c := range []cable{ours, bridge} {
				_, _ = fmt.Fprintf(c.master, "ST,GS,%8.1f g\r\n", g)
			}
		}
	}()
	defer func() { close(stop); <-done }()
	time.Sleep(4 * time.Second) // what is done once, at the start, is over
	var used [2]time.Duration
	var spent time.Duration
	var heard [2]int64
	b.ResetTimer()
	for b.Loop() {
		before, at := [2]time.Duration{us.cpu(b), them.cpu(b)}, time.Now()
		h := [2]int64{got[0].Load(), got[1].Load()}
		time.Sleep(idleFor)
		spent += time.Since(at)
		used[0] += us.cpu(b) - before[0]
		used[1] += them.cpu(b) - before[1]
		heard[0] += got[0].Load() - h[0]
		heard[1] += got[1].Load() - h[1]
	}
	if heard[0] == 0 || heard[1] == 0 {
		b.Fatal("a page heard nothing")
	}
	percent := func(i int) float64 { return 100 * used[i].Seconds() / spent.Seconds() }
	b.ReportMetric(percent(0), "%CPU")
	b.ReportMetric(percent(1), "bridge-%CPU")
	b.ReportMetric(percent(0)-percent(1), "above-%CPU")
	b.ReportMetric(us.resident(b), "MiB")
	b.ReportMetric(them.resident(b), "bridge-MiB")
	b.ReportMetric(float64(heard[0])/spent.Seconds()/20, "messages/s")
	b.ReportMetric(0, "ns/op")
}

// cable is a pseudo-terminal in place of a scale's cable.
type cable struct{ master, slave *os.File }

func openCable(b testing.TB) cable {
	master, slave, err := pty.Open()
	require.NoError(b, err)
	b.Cleanup(func() { master.Close(); slave.Close() })
	return cable{master, slave}
}

// process is a server that is looked at from outside.
type process struct {
	cmd      *exec.Cmd
	http, ws string
	code     string // pairs a browser, where one has to be paired
}

// startServe starts the built program on a scale at port.
func startServe(b testing.TB, port string, more ...string) process {
	args := append([]string{"serve", "--listen", "127.0.0.1:0", "--data", b.TempDir(), "--log", "error", "--json",
		"--scale", "name=bench,port=" + port + ",format=header-comma-mode,baud=9600,step=0.1g,max=2000g"}, more...)
	return start(b, exec.Command(program, args...))
}

func start(b testing.TB, cmd *exec.Cmd) process {
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	require.NoError(b, err)
	out, err := cmd.StdoutPipe()
	require.NoError(b, err)
	require.NoError(b, cmd.Start())
	b.Cleanup(func() {
		in.Close()
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	lines, code := bufio.NewScanner(out), ""
	for lines.Scan() {
		var v struct{ Kind, URL, Code string }
		if json.Unmarshal(lines.Bytes(), &v) != nil {
			continue
		}
		if v.Code != "" {
			code = v.Code
		}
		if v.Kind == "serving" {
			go func() { _, _ = io.Copy(io.Discard, out) }()
			url := strings.TrimSuffix(v.URL, "/")
			return process{cmd, url, "ws" + strings.TrimPrefix(url, "http") + "/live", code}
		}
	}
	b.Fatal("it serves nothing")
	return process{}
}

// cpu is what all threads of the process have used so far.
func (p process) cpu(b *testing.B) (sum time.Duration) {
	threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", p.cmd.Process.Pid))
	require.NoError(b, err)
	require.NotEmpty(b, threads)
	for _, t := range threads {
		s, err := os.ReadFile(t)
		require.NoError(b, err)
		ns, err := strconv.ParseInt(strings.Fields(string(s))[0], 10, 64) // first field: time on a processor, ns (proc(5))
		require.NoError(b, err)
		sum += time.Duration(ns)
	}
	return sum
}

// resident is the process's memory in MiB, its program text included.
func (p process) resident(b testing.TB) float64 { return p.memory(b, "VmRSS:") }

// memory is a line of /proc/PID/status that is in kB, as MiB.
func (p process) memory(b testing.TB, line string) float64 {
	s, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
	require.NoError(b, err)
	for l := range strings.Lines(string(s)) {
		if f := strings.Fields(l); len(f) == 3 && f[0] == line {
			kb, err := strconv.ParseInt(f[1], 10, 64)
			require.NoError(b, err)
			return float64(kb) / 1024
		}
	}
	b.Fatal("no " + line)
	return 0
}

// listenAll opens pages that read all that comes, and counts the messages.
func listenAll(b *testing.B, url string, n int) *atomic.Int64 {
	var count atomic.Int64
	for range n {
		conn, _, err := websocket.DefaultDialer.Dial(url, nil)
		require.NoError(b, err)
		b.Cleanup(func() { conn.Close() })
		go func() {
			for {
				_, r, err := conn.NextReader()
				if err != nil {
					return
				}
				_, _ = io.Copy(io.Discard, r)
				count.Add(1)
			}
		}()
	}
	return &count
}

func post(b testing.TB, url, body string) {
	res, err := http.Post(url, "application/json", strings.NewReader(body))
	require.NoError(b, err)
	defer res.Body.Close()
	said, err := io.ReadAll(res.Body)
	require.NoError(b, err)
	require.Less(b, res.StatusCode, 300, "%s", said)
}
