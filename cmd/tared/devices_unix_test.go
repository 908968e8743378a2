//go:build unix

package main

import (
	"encoding/json"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
)

// A device comes in by the code that the command shows, a program by its token; both are
// listed, named and sent away by the command, with a bench running and without, and the
// record tells it.
func TestDevicesByCommand(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "data")
	d := startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--pair", "--data", dir, "--log", "error", "--scale", "name=fine,port=eye,step=0.01g,max=300g")
	say := func(code int, args ...string) string {
		t.Helper()
		got, out, errs := tared(t, append(append([]string{"devices"}, args...), "--data", dir)...)
		require.Equal(t, code, got, "%v: %s%s", args, out, errs)
		return out + errs
	}
	ask := func(header ...string) int {
		r, err := http.NewRequest("GET", d.url+"api/view", nil)
		require.NoError(t, err)
		for i := 0; i < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		res, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		_, err = io.Copy(io.Discard, res.Body)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res.StatusCode
	}
	assert.Contains(t, say(0), "No device is paired")
	var i struct{ Code string }
	require.NoError(t, json.Unmarshal([]byte(say(0, "--add", "--json")), &i))
	res, err := http.Post(d.url+"api/pair", "application/json", strings.NewReader(`{"code":"`+i.Code+`"}`))
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	require.Equal(t, http.StatusOK, res.StatusCode)
	cookie := strings.Split(res.Header.Get("Set-Cookie"), ";")[0]
	token := "Bearer " + strings.TrimSpace(say(0, "--token", "charts", "--by", "Jonas"))
	assert.Equal(t, 401, ask())
	assert.Equal(t, 200, ask("Cookie", cookie))
	assert.Equal(t, 200, ask("Authorization", token))

	var first session.Device
	require.NoError(t, json.Unmarshal([]byte(strings.SplitN(say(0, "--json"), "\n", 2)[0]), &first))
	assert.Contains(t, say(0, first.ID, "--name", "tablet on the wall", "--by", "Mara"), "“tablet on the wall”")
	assert.Contains(t, say(exitUsage, "charts", "--name", "Tablet on the wall"), "Another device is called")
	assert.Contains(t, say(0, "Tablet on the WALL", "--revoke", "--by", "Mara"), "is out")
	assert.Equal(t, 401, ask("Cookie", cookie))
	assert.Equal(t, 200, ask("Authorization", token))
	for says, args := range map[string][]string{"one at a time": {"--add", "--token", "x"}, "Name a device": {"--revoke"}, "what is to be done": {"charts"}, "take no name": {"charts", "--add"}, "is called nobody": {"nobody", "--revoke"}} {
		assert.Contains(t, say(exitUsage, args...), says)
	}
	assert.Equal(t, exitDone, d.end(t))

	assert.Contains(t, say(exitFailed, "--add"), "No tared is running")
	say(0, "charts", "--revoke", "--by", "Mara")
	assert.Contains(t, say(0), "No device is paired")
	all := say(0, "--all")
	assert.Equal(t, 2, strings.Count(all, "revoked "), all)
	d = startDaemon(t, "serve", "--listen", "127.0.0.1:0", "--pair", "--data", dir, "--log", "error")
	assert.Equal(t, 401, ask("Authorization", token), "what was revoked without a bench holds for the next")
	assert.Equal(t, 401, ask("Cookie", cookie))
	assert.Equal(t, exitDone, d.end(t))
}
