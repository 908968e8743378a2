package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// A person who asks for what is not there gets a page with the way to the others; a
// script gets what a script can read.
func TestAFaultIsAPageWithNavigation(t *testing.T) {
	address, _ := served(t, nil)
	ask := func(path, accept string) *http.Response {
		r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, address+path, nil)
		r.RequestURI = ""
		r.Header.Set("Accept", accept)
		w, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		t.Cleanup(func() { _ = w.Body.Close() })
		return w
	}
	for _, path := range []string{"/nowhere", "/photo/none.jpg", "/static/none.js"} {
		w := ask(path, "text/html,*/*")
		assert.Equal(t, http.StatusNotFound, w.StatusCode, path)
		assert.Equal(t, "text/html; charset=utf-8", w.Header.Get("Content-Type"), path)
		assert.Equal(t, "application/json; charset=utf-8", ask(path, "*/*").Header.Get("Content-Type"), path)
	}
	assert.Equal(t, "application/json; charset=utf-8", ask("/api/nowhere", "text/html").Header.Get("Content-Type"))
	for _, icon := range []string{"/favicon.ico", "/apple-touch-icon.png"} {
		w := ask(icon, "image/*")
		assert.Equal(t, http.StatusOK, w.StatusCode)
		assert.Equal(t, "image/png", w.Header.Get("Content-Type"))
	}
	ctx, axe := axeTab(t)
	for _, sz := range sizes {
		resize(t, ctx, sz)
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(address+"/nowhere")))
		settle(t, ctx)
		assert.NotEmpty(t, eval[string](t, ctx, `document.querySelector("nav a[href='/book']").textContent`))
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		shot(t, ctx, "fault-"+sz.String(), true)
		axe("a fault")
	}
}

// ofATerminal is what belongs to a terminal: back-ticks, flags, paths of this machine.
var ofATerminal = regexp.MustCompile("`|/tmp/|(?:^|\\s)--[a-z]|\\$[A-Z]|journal\\.jsonl")

// TestNoPageSpeaksOfATerminal looks at all pages with all folds open. How a record is checked
// without this program is told in commands, and is left out.
func TestNoPageSpeaksOfATerminal(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	for _, p := range looks() {
		if p.name == "proof" || strings.HasPrefix(p.name, "help") {
			continue
		}
		visit(t, ctx, address+p.path)
		until(t, ctx, ready)
		words := eval[string](t, ctx, `document.querySelectorAll("details").forEach((d) => { d.removeAttribute("name"); d.open = true; }),
			document.querySelectorAll("#whole").forEach((e) => e.remove()), document.body.innerText`)
		assert.NotRegexp(t, ofATerminal, words, p.path)
	}
}

// TestNoErrorSpeaksOfATerminal says every refusal of the bench as a page says it.
func TestNoErrorSpeaksOfATerminal(t *testing.T) {
	for _, word := range []string{"anew-why", "abandon-why", "skip-over", "no-overpour", "paused-already", "no-batch", "batch-in-work", "typed-not-by-eye"} {
		said := onPage(text.English, text.New("command."+word, text.Name("word", "keep"), text.Name("material", "Quartz"), text.Name("scale", "bench"), text.Name("batch", "A")))
		assert.NotRegexp(t, ofATerminal, said, word)
		assert.NotContains(t, said, "{", word)
	}
	for i, l := range text.All {
		assert.NotContains(t, onPage(l, text.New("command.abandon-why")), "`", fmt.Sprint(i))
	}
}
