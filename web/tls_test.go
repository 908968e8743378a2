package web

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/gorilla/websocket"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/web/cert"
)

// encrypted has a server speak TLS, vouched for by an authority of its own.
func encrypted(t *testing.T) (func(*Config), *cert.Authority) {
	t.Helper()
	a, err := cert.Open(t.TempDir(), []string{"bench"}, time.Now())
	require.NoError(t, err)
	return func(c *Config) {
		c.TLS = a.Config(func() []string { return []string{"localhost", elsewhere, "127.0.0.1"} }, time.Now)
		c.Authority, c.Link = a, ""
	}, a
}

// At one address, who speaks TLS is served and who does not is led on, but for this machine
// itself and for what a device needs to trust the page.
func TestPlainAndEncryptedAtOneAddress(t *testing.T) {
	change, a := encrypted(t)
	here, there, b := listening(t, change)
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(nil)
	own, err := x509.ParseCertificate(a.DER())
	require.NoError(t, err)
	roots.AddCert(own)
	dial := func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "tcp", strings.TrimPrefix(here, "http://"))
	}
	hand := &http.Client{Transport: &http.Transport{DialContext: dial, TLSClientConfig: &tls.Config{RootCAs: roots}},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	secure := strings.Replace(there, "http://", "https://", 1)
	ask := func(method, url string) *http.Response {
		t.Helper()
		r, err := http.NewRequest(method, url, strings.NewReader(`{"word":"done"}`))
		require.NoError(t, err)
		r.Header.Set("Content-Type", "application/json")
		res, err := hand.Do(r)
		require.NoError(t, err)
		_, err = io.Copy(io.Discard, res.Body)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res
	}
	assert.Equal(t, http.StatusOK, ask("GET", here+"/api/view").StatusCode, "this machine itself")
	res := ask("GET", there+"/book/x?y=1")
	assert.Equal(t, http.StatusTemporaryRedirect, res.StatusCode)
	assert.Equal(t, secure+"/book/x?y=1", res.Header.Get("Location"))
	assert.Equal(t, http.StatusForbidden, ask("POST", there+"/api/do").StatusCode, "what was sent in the open is not taken")
	assert.Equal(t, http.StatusForbidden, ask("POST", there+"/api/pair").StatusCode)
	assert.Equal(t, http.StatusOK, ask("GET", there+"/ca").StatusCode)
	res = ask("GET", there+"/ca.crt")
	assert.Equal(t, "application/x-x509-ca-cert", res.Header.Get("Content-Type"))
	assert.Equal(t, http.StatusUnauthorized, ask("GET", secure+"/api/view").StatusCode, "TLS alone lets nobody in")
	assert.Empty(t, b.commands())

	// A cookie that was given over TLS is for TLS alone.
	i := struct{ code string }{}
	r, err := hand.Post(here+"/api/devices/invite", "application/json", strings.NewReader(`{}`))
	require.NoError(t, err)
	all, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	require.NoError(t, r.Body.Close())
	_, rest, _ := strings.Cut(string(all), `"code":"`)
	i.code, _, _ = strings.Cut(rest, `"`)
	r, err = hand.Post(secure+"/api/pair", "application/json", strings.NewReader(`{"code":"`+i.code+`"}`))
	require.NoError(t, err)
	require.NoError(t, r.Body.Close())
	require.Equal(t, http.StatusOK, r.StatusCode)
	c := r.Cookies()[0]
	assert.True(t, c.Secure)
	assert.True(t, c.HttpOnly)
	d := websocket.Dialer{NetDialContext: dial, TLSClientConfig: &tls.Config{RootCAs: roots}}
	address := "wss" + strings.TrimPrefix(secure, "https") + "/live"
	live, _, err := d.Dial(address, http.Header{"Origin": {secure}, "Cookie": {c.Name + "=" + c.Value}})
	require.NoError(t, err)
	nextView(t, live)
	require.NoError(t, live.Close())
	_, refused, err := d.Dial(address, http.Header{"Origin": {secure}})
	require.Error(t, err)
	assert.Equal(t, http.StatusUnauthorized, refused.StatusCode, "a live line without a cookie")
}

// Who connects and says nothing, or half a handshake, is dropped, and the server ends.
func TestWhoSaysNothingIsDroppedWithTLS(t *testing.T) {
	change, _ := encrypted(t)
	for what, sent := range map[string]string{"nothing": "", "half a handshake": "\x16\x03\x01", "half a head": "GET / HTT"} {
		t.Run(what, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				n, _, stop := beyond(t, change)
				c, r := n.send(t, "10.0.0.9:9", sent)
				start := time.Now()
				_, _ = io.Copy(io.Discard, r)
				assert.LessOrEqual(t, time.Since(start), headerWait+bodyWait)
				_ = c.Close()
				still := n.connect(t, "10.0.0.8:9") // and one that is there at the end
				time.Sleep(time.Second)
				stop()
				_ = still.Close()
			})
		})
	}
}

// With the authority trusted a browser takes the page for secure, and not before.
func TestThePageIsSecureWithItsOwnAuthority(t *testing.T) {
	path := findBrowser()
	if path == "" {
		missing(t, "no Chromium found; install it or name it in TARED_CHROMIUM")
	}
	change, a := encrypted(t)
	const bench = "bench.local"
	here, _, _ := listening(t, func(c *Config) {
		change(c)
		c.Open, c.Names = true, []string{bench}
		c.TLS = a.Config(func() []string { return []string{bench} }, time.Now)
	})
	own, err := x509.ParseCertificate(a.DER())
	require.NoError(t, err)
	spki := sha256.Sum256(own.RawSubjectPublicKeyInfo)
	alloc, stop := chromedp.NewExecAllocator(t.Context(), chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.Flag("host-resolver-rules", "MAP "+bench+" 127.0.0.1"), chromedp.Flag("ignore-certificate-errors-spki-list", base64.StdEncoding.EncodeToString(spki[:])))
	defer stop()
	ctx, end := chromedp.NewContext(alloc)
	defer end()
	there := "http://" + bench + strings.TrimPrefix(here, "http://127.0.0.1")
	visit(t, ctx, there+"/ca")
	assert.Equal(t, "http:", eval[string](t, ctx, `location.protocol`))
	assert.False(t, eval[bool](t, ctx, `isSecureContext`))
	assert.Equal(t, a.Fingerprint(), eval[string](t, ctx, `document.querySelector("#fingerprint").textContent`))
	shot(t, ctx, "ca", true)
	visit(t, ctx, there+"/") // plain, and led on
	until(t, ctx, `location.protocol === "https:" && document.body.textContent.includes("Whiting")`)
	assert.True(t, eval[bool](t, ctx, `isSecureContext`))
}
