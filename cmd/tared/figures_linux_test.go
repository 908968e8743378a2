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
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/require"
)

// The figures that are about the whole program, on Linux, which tells what a
// process uses.

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

func post(b testing.TB, url, body string) {
	res, err := http.Post(url, "application/json", strings.NewReader(body))
	require.NoError(b, err)
	defer res.Body.Close()
	said, err := io.ReadAll(res.Body)
	require.NoError(b, err)
	require.Less(b, res.StatusCode, 300, "%s", said)
}
