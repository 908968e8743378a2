package web

import (
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A browser in another zone shows the times of the bench, also that at which it heard of it
// last.
func TestTheClockIsThatOfTheBench(t *testing.T) {
	ctx := tab(t, "WebSocket", "Failed to load resource")
	address, b := served(t, nil)
	_, err := chromedp.Call(ctx, emulation.SetTimezoneOverride, emulation.SetTimezoneOverrideParams{TimezoneID: "America/Los_Angeles"})
	require.NoError(t, err)
	v := whiting()
	v.At = time.Date(2026, 12, 1, 14, 3, 7, 0, time.FixedZone("bench", 3600))
	visit(t, ctx, address)
	b.show(v)
	until(t, ctx, `document.getElementById("headline").textContent !== ""`)
	b.setStuck(true)
	until(t, ctx, `/14:0[3-9]/.test(document.getElementById("headline").textContent)`)
}

// lanAddress is an address of this machine that is not its own loop.
func lanAddress(t *testing.T) string {
	all, err := net.InterfaceAddrs()
	require.NoError(t, err)
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && !n.IP.IsLoopback() && n.IP.To4() != nil {
			return n.IP.String()
		}
	}
	t.Skip("this machine is on no network")
	return ""
}

// At an address of plain http a browser has no lock for the screen: a film plays in its place
// while a batch is in work, and a page says so.
func TestPlainHTTPKeepsTheScreenOn(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, func(c *Config) { c.Open = true })
	to, err := url.Parse(address)
	require.NoError(t, err)
	ln, err := net.Listen("tcp", net.JoinHostPort(lanAddress(t), "0"))
	require.NoError(t, err)
	hs := &http.Server{Handler: &httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) {
		r.SetURL(to)
		r.Out.Host = r.In.Host
	}}}
	go func() { _ = hs.Serve(ln) }()
	t.Cleanup(func() { _ = hs.Close() })
	lan := "http://" + ln.Addr().String()
	visit(t, ctx, lan)
	b.show(whiting())
	assert.False(t, eval[bool](t, ctx, `isSecureContext`))
	until(t, ctx, `document.querySelector(".film")?.currentTime > 0 && !document.querySelector(".film").paused`)
	assert.False(t, eval[bool](t, ctx, `document.documentElement.scrollWidth > document.documentElement.clientWidth`))
	visit(t, ctx, lan+"/workshop")
	until(t, ctx, `!document.getElementById("insecure").hidden`)
	visit(t, ctx, address)
	until(t, ctx, `document.getElementById("headline").textContent !== ""`)
	assert.True(t, eval[bool](t, ctx, `document.querySelector(".film") === null`), "where there is a lock no film is needed")
}
