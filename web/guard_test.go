package web

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func newServer(t testing.TB, change func(*Config)) (*Server, *fakeBench) {
	t.Helper()
	b := newFakeBench()
	b.show(whiting())
	cfg := Config{Bench: b, Log: zerolog.Nop(), Now: func() time.Time { return moment }}
	if change != nil {
		change(&cfg)
	}
	s, err := New(cfg)
	require.NoError(t, err)
	return s, b
}

// request makes a request as a browser on this machine's own page would.
func request(method, target, body string) *http.Request {
	r := httptest.NewRequest(method, "http://localhost:7410"+target, strings.NewReader(body))
	r.RemoteAddr = "127.0.0.1:50000"
	if method == http.MethodPost {
		r.Header.Set("Origin", "http://localhost:7410")
		r.Header.Set("Content-Type", "application/json")
	}
	return r
}

func do(s *Server, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.handler.ServeHTTP(w, r)
	return w
}

// A name that an attacker owns and lets point here makes his page same-origin
// (DNS rebinding); only the Host header gives it away.
func TestForeignHostsAreRefusedOnEveryRoute(t *testing.T) {
	own, err := os.Hostname()
	require.NoError(t, err)
	s, b := newServer(t, func(c *Config) { c.Names = []string{"glaze.example"} })
	for _, c := range []struct {
		host string
		ok   bool
	}{
		{"localhost", true},
		{"localhost:7410", true},
		{"LocalHost:7410", true},
		{"127.0.0.1:7410", true},
		{"192.168.1.20:7410", true},
		{"[::1]:7410", true},
		{"[::1]", true},
		{own, true},
		{own + ".local:7410", true},
		{"glaze.example", true},
		{"glaze.example.:7410", true},
		{"evil.example", false},
		{"localhost.evil.example", false},
		{"evil.glaze.example", false},
		{"127.0.0.1.evil.example:7410", false},
		{"", false},
		{"127.1", false}, // browsers write it out before sending
		{"[::1", false},
	} {
		for _, path := range []string{"/", "/api/view", "/live", "/static/no-file.js"} {
			r := request("GET", path, "")
			r.Host = c.host
			w := do(s, r)
			if c.ok {
				assert.NotEqual(t, http.StatusForbidden, w.Code, "%s %s", c.host, path)
			} else {
				assert.Equal(t, http.StatusForbidden, w.Code, "%s %s", c.host, path)
			}
		}
		r := request("POST", "/api/do", `{"word":"done"}`)
		r.Host = c.host
		r.Header.Set("Origin", "http://"+c.host)
		before := len(b.commands())
		do(s, r)
		if !c.ok {
			assert.Len(t, b.commands(), before, "a command came through under the name %q", c.host)
		}
	}
}

func TestForeignOriginsCannotCommand(t *testing.T) {
	for _, c := range []struct {
		name    string
		headers map[string]string
		ok      bool
	}{
		{"own page", map[string]string{"Origin": "http://localhost:7410"}, true},
		{"own page, told by the browser", map[string]string{"Origin": "http://localhost:7410", "Sec-Fetch-Site": "same-origin"}, true},
		{"a program, no page", map[string]string{}, true},
		{"foreign page", map[string]string{"Origin": "http://evil.example"}, false},
		{"same name, other port", map[string]string{"Origin": "http://localhost:8080"}, false},
		{"page in a sandbox or from a file", map[string]string{"Origin": "null"}, false},
		{"foreign page, no Origin, old proxy", map[string]string{"Sec-Fetch-Site": "cross-site"}, false},
		{"other scheme", map[string]string{"Origin": "ftp://localhost:7410"}, false},
	} {
		s, b := newServer(t, nil)
		r := request("POST", "/api/do", `{"word":"done"}`)
		r.Header.Del("Origin")
		for k, v := range c.headers {
			r.Header.Set(k, v)
		}
		w := do(s, r)
		if c.ok {
			assert.Equal(t, http.StatusOK, w.Code, c.name)
			assert.Len(t, b.commands(), 1, c.name)
		} else {
			assert.Equal(t, http.StatusForbidden, w.Code, c.name)
			assert.Empty(t, b.commands(), c.name)
		}
	}
}

func TestForeignPagesCannotWatch(t *testing.T) {
	s, _ := newServer(t, nil)
	hs := httptest.NewServer(s.handler)
	defer hs.Close()
	address := "ws" + strings.TrimPrefix(hs.URL, "http") + "/live"
	for origin, ok := range map[string]bool{hs.URL: true, "": true, "http://evil.example": false, "null": false, "http://127.0.0.1:1": false} {
		h := http.Header{}
		if origin != "" {
			h.Set("Origin", origin)
		}
		c, resp, err := websocket.DefaultDialer.Dial(address, h)
		if ok {
			if assert.NoError(t, err, origin) {
				_ = c.Close()
			}
			continue
		}
		assert.Error(t, err, origin)
		assert.Equal(t, http.StatusForbidden, resp.StatusCode, origin)
	}
	// And with a Host of the attacker's, as after a rebinding, though Origin and
	// Host agree.
	d := websocket.Dialer{NetDialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, "tcp", hs.Listener.Addr().String())
	}}
	_, resp, err := d.Dial("ws://evil.example/live", http.Header{"Origin": {"http://evil.example"}})
	require.Error(t, err)
	require.NotNil(t, resp)
	assert.Equal(t, http.StatusForbidden, resp.StatusCode)
}

func TestOnlyPostChanges(t *testing.T) {
	for _, path := range []string{"/api/do", "/api/start", "/api/plan"} {
		for _, method := range []string{"GET", "HEAD", "PUT", "DELETE", "PATCH", "OPTIONS"} {
			s, b := newServer(t, nil)
			r := request(method, path, `{"word":"done"}`)
			r.Header.Set("Content-Type", "application/json")
			w := do(s, r)
			assert.Equal(t, http.StatusMethodNotAllowed, w.Code, "%s %s", method, path)
			assert.Empty(t, b.commands())
			assert.Empty(t, b.started)
		}
	}
}

func TestCommandsAreJSONOfBoundedSize(t *testing.T) {
	for _, c := range []struct {
		name, kind, body string
		status           int
	}{
		{"good", "application/json", `{"word":"done","rest":"","by":"Mara","seen":3}`, 200},
		{"with a charset", "application/json; charset=utf-8", `{"word":"done"}`, 200},
		{"as a form sends it", "application/x-www-form-urlencoded", `word=done`, 415},
		{"as a form can send JSON", "text/plain", `{"word":"done"}`, 415},
		{"no type", "", `{"word":"done"}`, 415},
		{"not JSON", "application/json", `done`, 400},
		{"two values", "application/json", `{"word":"done"}{"word":"done"}`, 400},
		{"unknown field", "application/json", `{"word":"done","at":"2026-11-25T00:00:00Z"}`, 400},
		{"no word", "application/json", `{"rest":"Mara"}`, 400},
		{"empty", "application/json", ``, 400},
		{"too large", "application/json", `{"word":"note","rest":"` + strings.Repeat("a", maxBody) + `"}`, 413},
	} {
		s, b := newServer(t, nil)
		r := request("POST", "/api/do", c.body)
		r.Header.Set("Content-Type", c.kind)
		w := do(s, r)
		assert.Equal(t, c.status, w.Code, "%s: %s", c.name, w.Body)
		assert.Equal(t, c.status == 200, len(b.commands()) == 1, c.name)
		if c.status != 200 {
			var f fault
			require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f), c.name)
			assert.NotEmpty(t, f.Error, c.name)
		}
	}
}

func TestEveryAnswerCarriesTheLocks(t *testing.T) {
	s, _ := newServer(t, nil)
	for _, path := range []string{"/", "/sheet", "/book", "/book/x", "/compare", "/scales", "/pair", "/static/no-file.js", "/api/view", "/nothing-here"} {
		h := do(s, request("GET", path, "")).Header()
		csp := h.Get("Content-Security-Policy")
		assert.Contains(t, csp, "default-src 'self'", path)
		assert.Contains(t, csp, "frame-ancestors 'none'", path)
		assert.NotContains(t, csp, "unsafe", path)
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "no-referrer", h.Get("Referrer-Policy"), path)
	}
}

// The policy forbids inline script, and any style but the page's own, so a page that had
// any would be broken in the browser; this finds it without one.
func TestPagesHaveNothingInlineAndNothingForeign(t *testing.T) {
	s, _ := newServer(t, nil)
	all := map[string]string{}
	bundler, policies := newBundler(), map[string]string{}
	for _, p := range pages {
		with, err := bundler.bundle(p)
		require.NoError(t, err)
		for _, address := range p.addresses() {
			w := do(s, request("GET", address, ""))
			all[address], policies[address] = w.Body.String(), w.Header().Get("Content-Security-Policy")
			assert.Equal(t, with.policy, policies[address], address)
		}
	}
	for name, a := range bundler.files {
		all[name] = string(a.body)
	}
	for name, text := range all {
		if strings.HasSuffix(name, ".svg") {
			continue
		}
		assert.NotContains(t, text, "innerHTML", name)
		assert.NotContains(t, text, "document.write", name)
		assert.NotContains(t, text, "eval(", name)
		for _, scheme := range []string{"https://", "http://"} {
			for rest := text; ; {
				i := strings.Index(rest, scheme)
				if i < 0 {
					break
				}
				rest = rest[i:]
				assert.True(t, strings.HasPrefix(rest, "http://www.w3.org/2000/svg"), "%s: %.60s", name, rest)
				rest = rest[len(scheme):]
			}
		}
		if strings.HasPrefix(text, "<!doctype html>") {
			require.Equal(t, 1, strings.Count(text, "<style"), name)
			_, style, _ := strings.Cut(text, "<style>")
			style, _, _ = strings.Cut(style, "</style>")
			sum := sha256.Sum256([]byte(style))
			assert.Contains(t, policies[name], "'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'", name)
			assert.NotContains(t, text, " style=", name)
			assert.NotContains(t, text, " onclick=", name)
			assert.Equal(t, strings.Count(text, "<script"), strings.Count(text, `<script type="module" src="/static/`)+strings.Count(text, `<script class="words" type="application/json">`), name)
		}
	}
}

func TestBeyondLoopbackCommandsNeedAPairedBrowser(t *testing.T) {
	s, b := newServer(t, func(c *Config) { c.Pair, c.Open = true, true })
	code, _ := s.devices.NewCode()
	for _, path := range []string{"/api/do", "/api/plan", "/api/start", "/api/hands", "/api/devices", "/api/devices/invite"} {
		assert.Equal(t, http.StatusUnauthorized, do(s, request("POST", path, `{"word":"done"}`)).Code, path)
	}
	assert.Empty(t, b.commands())
	assert.Equal(t, http.StatusOK, do(s, request("GET", "/api/view", "")).Code, "watching is open")
	assert.Equal(t, http.StatusUnauthorized, do(s, request("GET", "/api/devices", "")).Code)

	assert.Equal(t, http.StatusForbidden, do(s, request("POST", "/api/pair", `{"code":"wrong"}`)).Code)
	assert.Equal(t, http.StatusForbidden, do(s, request("POST", "/api/pair", `{"code":""}`)).Code)
	// A person may read it out in groups and capitals.
	spoken := strings.ToUpper(code[:5] + " " + code[5:])
	w := do(s, request("POST", "/api/pair", `{"code":"`+spoken+`"}`))
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	cookies := w.Result().Cookies()
	require.Len(t, cookies, 1)
	assert.True(t, cookies[0].HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, cookies[0].SameSite)
	assert.Equal(t, http.StatusForbidden, do(s, request("POST", "/api/pair", `{"code":"`+code+`"}`)).Code, "a code serves once")

	r := request("POST", "/api/do", `{"word":"done"}`)
	r.AddCookie(cookies[0])
	assert.Equal(t, http.StatusOK, do(s, r).Code)
	assert.Len(t, b.commands(), 1)

	forged := *cookies[0]
	forged.Value = "B" + forged.Value[1:]
	r = request("POST", "/api/do", `{"word":"done"}`)
	r.AddCookie(&forged)
	assert.Equal(t, http.StatusUnauthorized, do(s, r).Code)

	// The cookie alone does not help a foreign page.
	r = request("POST", "/api/do", `{"word":"done"}`)
	r.AddCookie(cookies[0])
	r.Header.Set("Origin", "http://evil.example")
	assert.Equal(t, http.StatusForbidden, do(s, r).Code)
}

// Whoever sits at this machine may command, wherever it listens; a code is announced where
// others can come.
func TestWhereItListensDecidesAboutTheCode(t *testing.T) {
	for addr, want := range map[string]bool{"127.0.0.1:0": false, "0.0.0.0:0": true} {
		ready := make(chan net.Addr, 1)
		codes := make(chan string, 1)
		s, _ := newServer(t, func(c *Config) {
			c.Addr, c.Ready = addr, func(a net.Addr) { ready <- a }
			c.Code = func(i Invitation) { codes <- i.Code }
		})
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { done <- s.Run(ctx) }()
		a := (<-ready).(*net.TCPAddr)
		ask := func(host string, header ...string) int {
			r, err := http.NewRequestWithContext(ctx, "POST", "http://127.0.0.1:"+itoa(a.Port)+"/api/do", strings.NewReader(`{"word":"done"}`))
			require.NoError(t, err)
			r.Host = host
			r.Header.Set("Content-Type", "application/json")
			for i := 0; i < len(header); i += 2 {
				r.Header.Set(header[i], header[i+1])
			}
			resp, err := http.DefaultClient.Do(r)
			require.NoError(t, err)
			_ = resp.Body.Close()
			return resp.StatusCode
		}
		assert.Equal(t, http.StatusOK, ask("localhost:7410"))
		assert.Equal(t, http.StatusUnauthorized, ask("localhost:7410", "X-Forwarded-For", "127.0.0.1"), "a proxy on this machine opens nothing")
		assert.Equal(t, http.StatusUnauthorized, ask("192.168.1.20:7410"), "who comes by another address comes from elsewhere, or through somebody")
		assert.Equal(t, want, len(codes) == 1)
		cancel()
		assert.NoError(t, <-done)
	}
}

func TestRunSaysWhatIsWrongWithAnAddress(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer ln.Close()
	s, _ := newServer(t, func(c *Config) { c.Addr = ln.Addr().String() })
	err = s.Run(t.Context())
	require.Error(t, err)
	assert.Contains(t, err.Error(), ln.Addr().String())
}

func itoa(n int) string { b, _ := json.Marshal(n); return string(b) }
