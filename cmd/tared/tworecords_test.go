package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTwoRecordsDoNotGrowByAccident: a command beside a bench that keeps its record
// elsewhere, as a file says, must not begin one of its own without a word.
func TestTwoRecordsDoNotGrowByAccident(t *testing.T) {
	home := t.TempDir()
	data := filepath.Join(home, "bath-house")
	config := writeFile(t, "tared.toml", "data = \""+data+"\"\n[[scale]]\nname = \"fine\"\nport = \"eye\"\nstep = \"0.01g\"\nmax = \"300g\"\n")
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--config", config, "--log", "error")
	add := []string{"stock", "--add", "Quartz", "--amount", "25kg", "--by", "Mara"}
	usual := filepath.Join(home, "usual", "tared")
	run := func(args ...string) outcome {
		cmd := endsWithUs(exec.CommandContext(t.Context(), program, args...))
		cmd.Env = append(cleanEnv(t), "XDG_DATA_HOME="+filepath.Dir(usual)) // the last one counts
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		_ = cmd.Run()
		return outcome{cmd.ProcessState.ExitCode(), out.String(), errs.String()}
	}
	none := func() {
		t.Helper()
		_, err := os.Stat(usual)
		assert.ErrorIs(t, err, os.ErrNotExist, "no second record")
	}

	got := run(add...)
	assert.Equal(t, exitUsage, got.code, got.out)
	assert.Contains(t, got.err, data)
	none()
	got = run(append(add, "--config", config)...)
	assert.Equal(t, exitDone, got.code, got.err)
	none()
	require.Equal(t, exitDone, d.end(t))
	got = run(add...)
	assert.Equal(t, exitUsage, got.code, "nobody runs, and it is still the only record")
	none()
	got = run(append(add, "--data", usual)...)
	assert.Equal(t, exitDone, got.code, "whoever says so begins another one: %s", got.err)

	d = startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--config", config, "--log", "error")
	got = run(add...)
	assert.Equal(t, exitUsage, got.code, "there are two, and the other one is in use")
	require.Equal(t, exitDone, d.end(t))
	got = run(add...)
	assert.Equal(t, exitDone, got.code, "there are two, and none is in use: the usual one is meant: %s", got.err)
}
