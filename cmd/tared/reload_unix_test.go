//go:build unix

package main

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/plan"
)

// A running daemon takes new settings up at SIGHUP: with a batch in work not before it is
// closed, and never those that are wrong.
func TestSettingsAreReadAgain(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), configName)
	eye := func(names ...string) {
		text := ""
		for _, n := range names {
			text += "[[scale]]\nname = \"" + n + "\"\nport = \"eye\"\nstep = \"0.1g\"\nmax = \"2000g\"\n"
		}
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	}
	eye("fine")
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", t.TempDir(), "--log", "error", "--config", file)
	scales := func() (names string) {
		res, err := http.Get(d.url + "api/view")
		if err != nil {
			return "not there" // it makes way for the next
		}
		defer res.Body.Close()
		var v session.View
		if b, err := io.ReadAll(res.Body); err != nil || json.Unmarshal(b, &v) != nil {
			return "not there"
		}
		for _, s := range v.Scales {
			names += s.Name + " "
		}
		return names
	}
	hup := func() { require.NoError(t, d.cmd.Process.Signal(syscall.SIGHUP)) }
	become := func(want string) {
		t.Helper()
		require.Eventually(t, func() bool { return scales() == want }, patience(t), 50*time.Millisecond)
	}
	ask := func(path string, v any) {
		t.Helper()
		body, err := json.Marshal(v)
		require.NoError(t, err)
		res, err := http.Post(d.url+path, "application/json", strings.NewReader(string(body)))
		require.NoError(t, err)
		defer res.Body.Close()
		said, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, res.StatusCode, string(said))
	}
	become("fine ")
	eye("fine", "wall")
	hup()
	become("fine wall ")

	ask("api/start", plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Base: "100g", By: "Mara"})
	eye("fine")
	hup()
	require.Never(t, func() bool { return scales() != "fine wall " }, 5*idleEvery, 100*time.Millisecond, "a batch is in work")
	ask("api/do", session.Command{Word: "abandon", Rest: "the wrong bag", By: "Mara"})
	become("fine ")

	require.NoError(t, os.WriteFile(file, []byte("listen = here\n"), 0o600))
	hup()
	require.Never(t, func() bool { return scales() != "fine " }, 3*idleEvery, 100*time.Millisecond, "wrong settings are not taken up")
	require.Equal(t, exitDone, d.end(t))
}

// With no settings at all the daemon starts, serves its page, and says where its file of
// settings would be; a scale that is described wrongly stops no other.
func TestServeWithNothing(t *testing.T) {
	t.Parallel()
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", t.TempDir(), "--log", "error")
	code, body := fetch(t, d.url+"scales")
	assert.Equal(t, 200, code)
	assert.Contains(t, body, `id="ports"`)
	_, body = fetch(t, d.url+"api/ports")
	assert.Contains(t, body, `"looking":true`)
	assert.Equal(t, exitDone, d.end(t))

	file := writeFile(t, "tared.toml", "[[scale]]\nname=\"a\"\nport=\"eye\"\nstep=\"0.1\"\n[[scale]]\nname=\"b\"\nport=\"eye\"\nstep=\"0.1g\"\n")
	d = startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--data", t.TempDir(), "--log", "error", "--config", file)
	v := benchView(t, d.url)
	require.Len(t, v.Scales, 1)
	assert.Equal(t, "b", v.Scales[0].Name)
	_, body = fetch(t, d.url+"api/ports")
	assert.Contains(t, body, "the scale in line 1", "the page says which scale was left out, and why")
	assert.Equal(t, exitDone, d.end(t))
}
