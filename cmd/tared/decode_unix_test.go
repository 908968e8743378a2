//go:build unix

package main

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// letters is an endless line.
type letters struct{}

func (letters) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'S'
	}
	return len(p), nil
}

// A line of 100 MB without an end is refused in little memory: most of what is left room for
// here is what the race detector wants.
func TestDecodeHugeLine(t *testing.T) {
	for _, args := range [][]string{{"decode"}, {"decode", "--format", "header-comma"}} {
		cmd := exec.Command(program, args...)
		var errs bytes.Buffer
		cmd.Stdin, cmd.Stdout, cmd.Stderr = io.LimitReader(letters{}, 100<<20), io.Discard, &errs
		kill := time.AfterFunc(patience(t), func() { _ = cmd.Process.Kill() })
		require.Error(t, cmd.Run())
		kill.Stop()
		require.Equal(t, exitFailed, cmd.ProcessState.ExitCode(), errs.String())
		if use, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok && runtime.GOOS == "linux" {
			assert.Less(t, int64(use.Maxrss), int64(128<<10), "kB of memory for %v", args)
		}
	}
}

// The first Ctrl-C ends it, although it waits for bytes that never come.
func TestDecodeEndsAtInterrupt(t *testing.T) {
	cmd := exec.Command(program, "decode", "--format", "header-comma")
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	defer in.Close()
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	_, err = io.WriteString(in, "ST,+00123.45  g\r\n")
	require.NoError(t, err)
	_, err = out.Read(make([]byte, 512)) // it is at work
	require.NoError(t, err)
	require.NoError(t, cmd.Process.Signal(os.Interrupt))
	require.Error(t, ends(t, cmd), "the first Ctrl-C ends it")
}
