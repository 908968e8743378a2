package web

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// asked is what browsers asked of a server, and how much they got.
type asked struct {
	mu     sync.Mutex
	what   []string
	bytes  int // of bodies, as they were sent
	script chan struct{}
	next   http.Handler
}

func (a *asked) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	a.mu.Lock()
	a.what = append(a.what, r.URL.Path)
	a.mu.Unlock()
	if r.URL.Path == "/live" {
		a.next.ServeHTTP(w, r)
		return
	}
	if strings.HasSuffix(r.URL.Path, ".js") {
		<-a.script
	}
	a.next.ServeHTTP(counting{w, a}, r)
}

type counting struct {
	http.ResponseWriter
	a *asked
}

func (c counting) Write(b []byte) (int, error) {
	c.a.mu.Lock()
	c.a.bytes += len(b)
	c.a.mu.Unlock()
	return c.ResponseWriter.Write(b)
}

// since gives what was asked since the last time.
func (a *asked) since() (what []string, bytes int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	what, bytes, a.what, a.bytes = a.what, a.bytes, nil, 0
	return what, bytes
}

// The bench page is there with three requests, its icon among them, and 30 KB beside the
// line to the bench; the next time with none but the question whether it is still the same.
// It can be painted before its script is there.
func TestAPageComesInOneAnswerAndItsScript(t *testing.T) {
	ctx := tab(t)
	s, b := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	b.show(whiting())
	a := &asked{next: s.handler, script: make(chan struct{})}
	hs := httptest.NewServer(a)
	t.Cleanup(func() { s.live.close(); hs.Close() })
	came := make(chan error, 1)
	go func() { came <- chromedp.Do(ctx, chromedp.Navigate(hs.URL)) }()
	until(t, ctx, `location.host !== "" && performance.getEntriesByType("paint").length > 0 && getComputedStyle(document.querySelector(".head")).display === "flex"`)
	close(a.script)
	require.NoError(t, <-came)
	drawn(t, ctx, whiting())
	what, bytes := a.since()
	t.Logf("first: %d bytes, %q", bytes, what)
	what = slices.DeleteFunc(what, func(path string) bool { return path == "/live" })
	assert.LessOrEqual(t, len(what), 3, "%q", what)
	assert.LessOrEqual(t, bytes, 30<<10)

	visit(t, ctx, "about:blank")
	a.since()
	visit(t, ctx, hs.URL)
	drawn(t, ctx, whiting())
	what, bytes = a.since()
	assert.Equal(t, []string{"/", "/live"}, what)
	assert.Zero(t, bytes)

	// So it is on every page.
	for _, p := range pages {
		first := hs.URL + p.addresses()[0]
		visit(t, ctx, first)
		visit(t, ctx, "about:blank")
		a.since()
		visit(t, ctx, first)
		settle(t, ctx)
		what, bytes := a.since()
		require.NotEmpty(t, what, p.Name)
		for _, path := range what {
			assert.NotContains(t, path, "/static/", "%s: asked for again", p.Name)
		}
		if p.Name == "sheet" || p.Name == "label" {
			assert.Zero(t, bytes, p.Name)
		}
	}
}
