//go:build unix

package main

import (
	"context"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// besides are the commands that write or read beside a running bench, in an order in which
// each finds what it needs. The batch is that of keptBatch.
func besides(t *testing.T) [][]string {
	recipe := filepath.Join(t.TempDir(), "recipe.txt")
	require.NoError(t, os.WriteFile(recipe, []byte("# Slate, matt\nQuartz 60\nWhiting 40\n"), 0o600))
	return [][]string{
		{"water", "260302a", "--added", "900g"},
		{"water", "260302A", "--sample", "148.7g", "--volume", "100ml"},
		{"fire", "260302a", "--kiln", "small", "--photo", pictureFile(t)},
		{"judge", "260302a", "--tile", "KD-A", "--words", "matt", "--photo", pictureFile(t)},
		{"correct", "260302a", "--entry", "3", "--weight", "990.0g", "--reason", "read wrongly"},
		{"strike", "260302a", "--entry", "7", "--reason", "another bucket"},
		{"vessel", "the cylinder", "--water", "99.8g", "--celsius", "20"},
		{"stock", "--add", "Quartz", "--amount", "25kg"},
		{"stock", "--correct", "L1", "--amount", "24kg", "--reason", "weighed again"},
		{"recipe", "--save", recipe},
		{"record"}, {"record", "260302a"}, {"stock"}, {"recipe"}, {"vessel"}, {"label", "260302a"}, {"verify"},
		{"backup", filepath.Join(t.TempDir(), "copy.tared")},
	}
}

// carriedOut runs a command beside what uses the journal in dir.
func carriedOut(t *testing.T, dir string, args []string) {
	t.Helper()
	switch args[0] {
	case "record", "label", "verify", "backup":
	default:
		args = append(args, "--by", "Mara")
	}
	code, out, errs := tared(t, append(args, "--data", dir)...)
	assert.Equal(t, exitDone, code, "%v: %s%s", args, out, errs)
}

// Once the page was on the network, each command that writes was told to pair a browser.
func TestCommandsGoThroughADaemonOnTheNetwork(t *testing.T) {
	t.Parallel()
	dir := keptBatch(t)
	d := startDaemon(t, "serve", "--listen", "0.0.0.0:0", "--pair", "--data", dir, "--log", "error", "--scale", "name=fine,port=eye,step=0.01g,max=300g")
	for _, args := range besides(t) {
		carriedOut(t, dir, args)
	}
	code, _, errs := tared(t, "strike", "260302a", "--entry", "5", "--reason", "x", "--by", "Mara", "--data", dir)
	assert.Equal(t, exitUsage, code)
	assert.Contains(t, errs, "Only a portion", "what is refused is refused in its own words")
	_, out, errs := tared(t, "checkup", "--json", "--data", dir)
	assert.Contains(t, out, "the page answers at http://127.0.0.1:", errs)
	info, err := os.Lstat(filepath.Join(dir, controlName))
	require.NoError(t, err)
	assert.Equal(t, os.ModeSocket|0o660, info.Mode())

	// A second daemon on the same record is refused, and does not take the socket away.
	code, _, errs = tared(t, "serve", "--listen", "127.0.0.1:0", "--data", dir)
	assert.Equal(t, exitFailed, code)
	assert.Contains(t, errs, "another tared is running")
	carriedOut(t, dir, []string{"water", "260302a", "--added", "10g"})
	assert.Equal(t, exitDone, d.end(t))
	assert.NoFileExists(t, filepath.Join(dir, controlName))
	carriedOut(t, dir, []string{"water", "260302a", "--added", "20g"})
}

// A bench without a page, as that of weigh, takes commands too.
func TestCommandsGoThroughABenchWithoutAPage(t *testing.T) {
	dir := keptBatch(t)
	w, err := newLiveBench(liveBenchConfig{dir: dir, log: zerolog.Nop()})
	require.NoError(t, err)
	code, _, errs := tared(t, "water", "260302a", "--added", "900g", "--by", "Mara", "--data", dir)
	assert.Equal(t, exitFailed, code)
	assert.Contains(t, errs, "Another tared is using", "it does not run yet")
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- w.Run(ctx) }()
	require.NoError(t, w.bench.Alive(ctx))
	for _, args := range besides(t) {
		carriedOut(t, dir, args)
	}
	cancel()
	require.NoError(t, <-done)
	require.NoError(t, w.Close())
}

func TestASocketThatAKilledDaemonLeft(t *testing.T) {
	t.Parallel()
	dir := keptBatch(t)
	serve := []string{"serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error"}
	d := startDaemon(t, serve...)
	require.NoError(t, d.cmd.Process.Kill())
	_ = ends(t, d.cmd)
	require.FileExists(t, filepath.Join(dir, controlName))
	carriedOut(t, dir, []string{"water", "260302a", "--added", "900g"}) // by itself
	d = startDaemon(t, serve...)
	carriedOut(t, dir, []string{"water", "260302a", "--added", "10g"})
	assert.Equal(t, exitDone, d.end(t))
}

// What stands in the way of the socket stands in nobody else's, and is not thrown away.
func TestABenchWithoutASocketSaysSo(t *testing.T) {
	parent := t.TempDir()
	for name, put := range map[string]func(dir string){
		strings.Repeat("long", 30): func(string) {},
		"file": func(dir string) {
			require.NoError(t, os.WriteFile(filepath.Join(dir, controlName), []byte("mine"), 0o600))
		},
	} {
		dir := filepath.Join(parent, name)
		require.NoError(t, os.Rename(keptBatch(t), dir))
		put(dir)
		d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error")
		code, _, errs := tared(t, "water", "260302a", "--added", "900g", "--by", "Mara", "--data", dir)
		assert.Equal(t, exitFailed, code)
		if name == "file" {
			assert.Contains(t, errs, "Another tared is using")
			kept, err := os.ReadFile(filepath.Join(dir, controlName))
			require.NoError(t, err)
			assert.Equal(t, "mine", string(kept))
		} else {
			assert.Contains(t, errs, "shorter path")
		}
		assert.Equal(t, exitDone, d.end(t))
	}
}

// The socket opens nothing to the network: its mark is of the connection and cannot be sent.
func TestOnlyTheSocketNeedsNoPairing(t *testing.T) {
	dir := keptBatch(t)
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--pair", "--data", dir, "--log", "error")
	body := `{"batch":"260302a","by":"Mara","watered":{"added":"900g"}}`
	res, err := http.Post(d.url+"api/after", "application/json", strings.NewReader(body))
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	assert.Equal(t, http.StatusUnauthorized, res.StatusCode)
	through := http.Client{Transport: &http.Transport{DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "unix", filepath.Join(dir, controlName))
	}}}
	res, err = through.Post("http://any.example/api/after", "application/json", strings.NewReader(body))
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	assert.Equal(t, http.StatusOK, res.StatusCode)
	assert.Equal(t, exitDone, d.end(t))
}

// Whom the rights of the socket do not let in is told so, and changes nothing.
func TestTheRightsOfTheSocketDecide(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("only root can become somebody else")
	}
	parent, err := os.MkdirTemp("", "tared-rights-")
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(parent) })
	dir := filepath.Join(parent, "data")
	require.NoError(t, os.Rename(keptBatch(t), dir))
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error")
	for _, path := range []string{parent, dir, filepath.Dir(program)} {
		require.NoError(t, os.Chmod(path, 0o755))
	}
	const stranger, member = 65534, 65533
	require.NoError(t, os.Chown(filepath.Join(dir, controlName), 0, member))
	as := func(group uint32) (string, error) {
		cmd := exec.Command(program, "stock", "--add", "Quartz", "--amount", "25kg", "--by", "Mara", "--data", dir)
		cmd.Env = append(cleanEnv(t), "HOME=/nonexistent")
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: stranger, Gid: group}}
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	out, err := as(stranger)
	require.Error(t, err)
	assert.Contains(t, out, "do not let you in")
	out, err = as(member)
	require.NoError(t, err, out)
	assert.Contains(t, out, "L1.")
	assert.Equal(t, exitDone, d.end(t))
}
