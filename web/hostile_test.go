package web

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a neighbour in the network gets who is not paired: the way to pair, and nothing of
// what the bench knows, whatever path he writes.
func TestANeighbourReadsNothing(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "pairing.key"), []byte("the key"), 0o600))
	s, b := newServer(t, func(c *Config) { c.Book, c.Photos = fakeBook{}, dir })
	for _, path := range []string{"/", "/book", "/book/c261124", "/label/c261124", "/stock", "/sheet", "/scales", "/workshop", "/devices", "/compare", "/api/view", "/api/book", "/api/devices", "/api/shelf", "/api/samples",
		"/api/v1/batches", "/api/v1/lots", "/api/v1/bench", "/metrics", "/live", "/export/batches.csv", "/photo/" + strings.Repeat("a", 64) + ".jpg", "/photo/small/" + strings.Repeat("a", 64) + ".jpg",
		"/static/../api/view", "/static/%2e%2e/api/view", "/static/..%2fapi/view", "/static//../../book", "/pair/../book", "//book", "/./book", "/pair/", "/api/pair/../view", "/healthz/../book", "/static/..;/book"} {
		for _, host := range []string{"192.168.1.20:7410", "localhost:7410", "127.0.0.1:7410", "[::1]:7410"} {
			r := request("GET", "/", "")
			u, err := url.Parse("http://" + host + path)
			require.NoError(t, err)
			r.URL, r.Host, r.RemoteAddr = u, host, "192.168.1.66:5000"
			w := do(s, r)
			assert.NotEqual(t, http.StatusOK, w.Code, "%s as %s", path, host)
			for _, known := range []string{"Tidewrack", "Mara", "Whiting", "c261124", "the key"} {
				assert.NotContains(t, w.Body.String(), known, path)
			}
		}
	}
	for _, path := range []string{"/api/do", "/api/start", "/api/keep", "/api/after", "/api/devices", "/api/devices/invite", "/api/ports/take", "/api/photo", "/static/../api/do"} {
		r := request("POST", "/", `{"word":"done"}`)
		r.URL.Path, r.RemoteAddr = path, "192.168.1.66:5000"
		assert.GreaterOrEqual(t, do(s, r).Code, 300, path)
	}
	assert.Empty(t, b.commands())
	assert.Empty(t, b.devices)
}

// And one who is: of the files beside the journal he gets photographs by their names alone.
func TestNoPathLeadsOutOfThePhotographs(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "photos"), 0o750))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "pairing.key"), []byte("the key"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "photos", "note.txt"), []byte("the key"), 0o600))
	s, _ := newServer(t, func(c *Config) { c.Photos = dir })
	for _, name := range []string{"../pairing.key", "..%2fpairing.key", "%2e%2e%2fpairing.key", "..%5cpairing.key", "note.txt", ".", "..", "%00", "/etc/passwd", strings.Repeat("a", 64), strings.Repeat("a", 64) + ".jpg/../../pairing.key", "....//pairing.key"} {
		for _, at := range []string{"/photo/", "/photo/small/", "/static/", "/export/"} {
			r := request("GET", "/", "")
			u, err := url.Parse("http://localhost:7410" + at + name)
			require.NoError(t, err)
			r.URL = u
			w := do(s, r)
			assert.NotEqual(t, http.StatusOK, w.Code, at+name)
			assert.NotContains(t, w.Body.String(), "the key", at+name)
		}
	}
}

// A live line wants the same proof as a page, and its origin.
func TestALiveLineWantsItsProof(t *testing.T) {
	here, there, _ := listening(t, nil)
	d := websocket.Dialer{}
	at := "ws" + strings.TrimPrefix(here, "http") + "/live"
	try := func(header ...string) int {
		h := http.Header{}
		for i := 0; i < len(header); i += 2 {
			h.Set(header[i], header[i+1])
		}
		c, res, err := d.Dial(at, h)
		if err == nil {
			_ = c.Close()
		}
		require.NotNil(t, res)
		return res.StatusCode
	}
	host := strings.TrimPrefix(there, "http://")
	assert.Equal(t, http.StatusSwitchingProtocols, try("Origin", here))
	assert.Equal(t, http.StatusForbidden, try("Origin", "http://evil.example"))
	assert.Equal(t, http.StatusUnauthorized, try("Host", host, "Origin", there))
	assert.Equal(t, http.StatusUnauthorized, try("Host", host, "Origin", there, "Cookie", "tared_paired=AAAA"))
	assert.Equal(t, http.StatusUnauthorized, try("X-Forwarded-For", "127.0.0.1", "Origin", here))
	assert.Equal(t, http.StatusForbidden, try("Host", "evil.example", "Origin", "http://evil.example"), "rebound")
}
