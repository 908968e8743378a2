package web

import (
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// proxied is a request that came from peer with headers, each "Name: value".
func proxied(peer, host string, headers ...string) *http.Request {
	r := httptest.NewRequest("GET", "http://"+host+"/api/view", nil)
	r.RemoteAddr = peer
	for _, h := range headers {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Add(name, value)
	}
	return r
}

// What a proxy says opens nothing, be it on this machine, and be it trusted.
func TestBehindAProxyNobodyIsLocal(t *testing.T) {
	here := []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("::1/128")}
	for _, proxies := range [][]netip.Prefix{nil, here} {
		for _, header := range []string{"Forwarded: for=127.0.0.1", "X-Forwarded-For: 127.0.0.1", "X-Forwarded-Proto: https", "X-Forwarded-Anything: 1", "X-Real-IP: 127.0.0.1", "Via: 1.1 box",
			"CF-Connecting-IP: 127.0.0.1", "cf-ray: 1", "True-Client-IP: ::1", "X-Client-IP: ::1", "X-Original-Forwarded-For: ::1", "X-Envoy-External-Address: ::1", "Tailscale-User-Login: me", "CDN-Loop: x"} {
			for _, peer := range []string{"127.0.0.1:5", "[::1]:5", "[::ffff:127.0.0.1]:5", "127.9.9.9:5"} {
				assert.False(t, callerOf(called(proxied(peer, "localhost", header), proxies)).local, "%s from %s", header, peer)
			}
		}
		for _, c := range []struct {
			peer, host string
			local      bool
		}{
			{"127.0.0.1:5", "localhost:7410", true}, {"127.0.0.1:5", "127.0.0.1:7410", true}, {"[::1]:5", "[::1]:7410", true}, {"[::ffff:127.0.0.1]:5", "LOCALHOST", true},
			{"127.0.0.1:5", "bench.lan", false}, {"127.0.0.1:5", "192.168.1.20:7410", false}, {"127.0.0.1:5", "localhost.evil.example", false},
			{"192.168.1.9:5", "localhost:7410", false}, {"[fe80::1%eth0]:5", "localhost", false}, {"pipe", "localhost", false}, {"", "localhost", false},
		} {
			assert.Equal(t, c.local, callerOf(called(proxied(c.peer, c.host), proxies)).local, "%+v", c)
		}
		old := proxied("127.0.0.1:5", "127.0.0.1:7410")
		old.ProtoMinor = 0
		assert.False(t, callerOf(called(old, proxies)).local, "a proxy that says nothing of itself, by its HTTP/1.0")
	}
}

// Address, scheme and host are taken from a proxy that was named, and from no other.
func TestOnlyANamedProxyIsBelieved(t *testing.T) {
	named := []netip.Prefix{netip.MustParsePrefix("10.0.0.0/24")}
	for _, c := range []struct {
		peer    string
		headers []string
		addr    string
		secure  bool
		host    string
	}{
		{"10.0.0.2:5", []string{"X-Forwarded-For: 192.168.1.9", "X-Forwarded-Proto: https", "X-Forwarded-Host: bench.lan"}, "192.168.1.9:5", true, "bench.lan"},
		{"10.0.0.2:5", []string{"X-Forwarded-For: 1.2.3.4, 192.168.1.9, 10.0.0.7"}, "192.168.1.9:5", false, "localhost"}, // what stands before, anybody may have written
		{"10.0.0.2:5", []string{"X-Forwarded-For: 1.2.3.4", "X-Forwarded-For: 192.168.1.9"}, "192.168.1.9:5", false, "localhost"},
		{"10.0.0.2:5", []string{`Forwarded: for=1.2.3.4, for="[2001:db8::9]:4711";proto=https`}, "[2001:db8::9]:5", false, "localhost"},
		{"10.0.0.2:5", []string{"X-Forwarded-For: nonsense"}, "10.0.0.2:5", false, "localhost"},
		{"10.0.0.2:5", []string{"X-Forwarded-Host: bench.lan, evil.example", "Via: 1.1 x"}, "10.0.0.2:5", false, "localhost"},
		{"10.0.1.2:5", []string{"X-Forwarded-For: 192.168.1.9", "X-Forwarded-Proto: https", "X-Forwarded-Host: bench.lan"}, "10.0.1.2:5", false, "localhost"},
		{"127.0.0.1:5", []string{"X-Forwarded-Proto: https"}, "127.0.0.1:5", false, "localhost"},
	} {
		r := called(proxied(c.peer, "localhost", c.headers...), named)
		assert.Equal(t, c.addr, r.RemoteAddr, "%+v", c)
		assert.Equal(t, c.secure, callerOf(r).secure, "%+v", c)
		assert.Equal(t, c.host, r.Host, "%+v", c)
		assert.False(t, callerOf(r).local)
	}
}

// A name that is not ours gets a page in the reader's language that says how to allow it,
// and a program what it can read; what the page says of the name is text.
func TestANameThatIsNotOursIsToldHowToBeAllowed(t *testing.T) {
	s, _ := newServer(t, nil)
	for language, says := range map[string]string{"en": "does not go by the name", "de": "hört nicht auf den Namen", "fr": "ne répond pas au nom", "es": "no responde al nombre"} {
		r := request("GET", "/", "")
		r.Host = "bench.lan:7410"
		r.Header.Set("Accept", "text/html")
		r.Header.Set("Accept-Language", language)
		w := do(s, r)
		assert.Equal(t, http.StatusForbidden, w.Code)
		assert.Equal(t, "text/html; charset=utf-8", w.Header().Get("Content-Type"))
		assert.Contains(t, w.Body.String(), says)
		assert.Contains(t, w.Body.String(), `names = ["bench.lan"]`)
		assert.Contains(t, w.Body.String(), `href="http://127.0.0.1/"`)
	}
	r := request("GET", "/", "")
	r.Host = `x"><script>.example`
	r.Header.Set("Accept", "text/html")
	assert.NotContains(t, do(s, r).Body.String(), "<script>.example")
	r = request("GET", "/api/view", "")
	r.Host = "bench.lan"
	w := do(s, r)
	require.Equal(t, http.StatusForbidden, w.Code)
	assert.Equal(t, "application/json; charset=utf-8", w.Header().Get("Content-Type"))
	assert.NotContains(t, w.Body.String(), "recording", "nothing of the bench is told")
}

// A label whose QR code leads a telephone to itself says so, and not on the paper.
func TestALabelSaysWhenItLeadsNowhere(t *testing.T) {
	for host, warns := range map[string]bool{"localhost:7410": true, "127.0.0.1:7410": true, "[::1]:7410": true, "192.168.1.20:7410": false} {
		s, _ := newServer(t, func(c *Config) { c.Book, c.Open = fakeBook{}, true })
		r := request("GET", "/label/c261124", "")
		r.Host = host
		page := do(s, r).Body.String()
		require.Contains(t, page, "<svg", host)
		assert.Equal(t, warns, strings.Contains(page, "which a telephone takes for itself"), host)
		paper := page[strings.Index(page, `<div class="sheet"`):]
		assert.NotContains(t, paper, "telephone")
	}
	s, _ := newServer(t, func(c *Config) { c.Book, c.Link = fakeBook{}, "http://192.168.1.20:7410/" })
	assert.NotContains(t, do(s, request("GET", "/label/c261124", "")).Body.String(), "only-here")
}
