package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/text"
)

// TestEveryPageIsServed walks the table of pages. Every file that a page names is
// there, with the type that nosniff insists on.
func TestEveryPageIsServed(t *testing.T) {
	s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	for _, p := range pages {
		w := do(s, request("GET", p.addresses()[0], ""))
		require.Contains(t, []int{http.StatusOK, http.StatusBadRequest}, w.Code, "%s: %s", p.Name, w.Body)
		assert.Equal(t, "text/html; charset=utf-8", w.Header().Get("Content-Type"), p.Name)
		body := w.Body.String()
		assert.Contains(t, body, `data-page="`+p.Name+`"`)
		assert.NotContains(t, body, "[page.", "%s: a sentence or a value is missing", p.Name)
		assert.NotContains(t, body, "[script.", p.Name)
		assert.Len(t, names(body), 2, "%s: script and icon", p.Name)
		if p.Nav.Code != "" {
			assert.Contains(t, body, `<a href="`+p.Link()+`" aria-current="page">`, p.Name)
		}
		for _, name := range names(body) {
			f := do(s, request("GET", name, ""))
			assert.Equal(t, http.StatusOK, f.Code, "%s names %s", p.Name, name)
			assert.NotContains(t, f.Header().Get("Content-Type"), "text/plain", name)
			assert.Contains(t, f.Header().Get("Cache-Control"), "immutable", name)
		}
		if r := request("GET", p.addresses()[0], ""); w.Code == http.StatusOK {
			r.Header.Set("If-None-Match", w.Header().Get("ETag"))
			assert.Equal(t, http.StatusNotModified, do(s, r).Code, p.Name)
		}
	}
	assert.Equal(t, http.StatusNotFound, do(s, request("GET", "/nothing", "")).Code)
	assert.Equal(t, http.StatusNotFound, do(s, request("GET", "/static/layout.html", "")).Code)
}

// A page that lacks a file is named when the server is made.
func TestAPageWithoutAFileIsNamed(t *testing.T) {
	_, err := newBundler().bundle(page{Name: "kiln"})
	require.Error(t, err)
	assert.Contains(t, err.Error(), "page kiln: ")
	assert.Contains(t, err.Error(), "kiln.css")
}

func names(page string) []string {
	var all []string
	for _, part := range strings.Split(page, `"/static/`)[1:] {
		name, _, _ := strings.Cut(part, `"`)
		all = append(all, "/static/"+name)
	}
	return all
}

func TestTheViewIsTheBenchsOwnBytes(t *testing.T) {
	s, b := newServer(t, nil)
	w := do(s, request("GET", "/api/view", ""))
	require.Equal(t, http.StatusOK, w.Code)
	assert.Equal(t, string(b.latest()), w.Body.String())
	assert.Zero(t, b.views.Watching(), "the watch is closed again")
	assert.Equal(t, "no-store", w.Header().Get("Cache-Control"))
	s, _ = newServer(t, func(c *Config) { c.Bench = newFakeBench() })
	assert.Equal(t, http.StatusServiceUnavailable, do(s, request("GET", "/api/view", "")).Code)
}

func TestACommandReachesTheBenchAsSent(t *testing.T) {
	s, b := newServer(t, nil)
	w := do(s, request("POST", "/api/do", `{"word":" Yes ","rest":" Mara ","by":"Ilse","seen":41}`))
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	assert.Equal(t, []session.Command{{At: moment, Word: "yes", Rest: "Mara", By: "Ilse", Seen: 41}}, b.commands())
}

func TestWhatTheBenchSaysComesBack(t *testing.T) {
	for _, c := range []struct {
		err    error
		status int
	}{
		{&text.Refusal{Message: text.Written("nothing waits for a yes now")}, 409},
		{fmt.Errorf("write the journal: %w", errors.New("no space left on device")), 500},
	} {
		s, b := newServer(t, nil)
		b.fail = c.err
		w := do(s, request("POST", "/api/do", `{"word":"yes"}`))
		assert.Equal(t, c.status, w.Code)
		var f fault
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f))
		assert.Equal(t, c.err.Error(), f.Error)
	}
}

func TestFaultsOfARecipeComeWithTheirLines(t *testing.T) {
	s, b := newServer(t, nil)
	b.planErr = fmt.Errorf("plan: %w", recipeFaults())
	for _, path := range []string{"/api/plan", "/api/start"} {
		w := do(s, request("POST", path, `{"recipe":"…","base":"750g","by":"Mara"}`))
		assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
		var f fault
		require.NoError(t, json.Unmarshal(w.Body.Bytes(), &f))
		require.Len(t, f.Lines, 2, f.Error)
		assert.Equal(t, 2, f.Lines[0].Line)
		assert.Equal(t, 3, f.Lines[1].Line)
		assert.NotEmpty(t, f.Lines[0].Words)
	}
}

func TestABatchIsStartedByANamedPerson(t *testing.T) {
	s, b := newServer(t, nil)
	assert.Equal(t, http.StatusUnprocessableEntity, do(s, request("POST", "/api/start", `{"recipe":"Quartz 1","base":"750g","by":" "}`)).Code)
	assert.Empty(t, b.started)
	w := do(s, request("POST", "/api/start", `{"recipe":"Quartz 1","base":"750g","by":"Mara"}`))
	require.Equal(t, http.StatusOK, w.Code, w.Body)
	assert.JSONEq(t, `{"mark":"a251125"}`, w.Body.String())
	require.Len(t, b.started, 1)
	assert.Equal(t, "750g", b.started[0].Base)
}

func TestHandsAreThereOnlyForADemonstration(t *testing.T) {
	s, _ := newServer(t, nil)
	assert.JSONEq(t, `[]`, do(s, request("GET", "/api/hands", "")).Body.String())
	assert.Equal(t, http.StatusNotFound, do(s, request("POST", "/api/hands", `{"scale":"bench","do":"pour"}`)).Code)

	h := &fakeHands{}
	s, _ = newServer(t, func(c *Config) { c.Hands = h })
	assert.Contains(t, do(s, request("GET", "/api/hands", "")).Body.String(), `"scale":"fine"`)
	assert.Equal(t, http.StatusOK, do(s, request("POST", "/api/hands", `{"scale":"bench","do":"pour"}`)).Code)
	assert.Equal(t, http.StatusConflict, do(s, request("POST", "/api/hands", `{"scale":"bench","do":"fly"}`)).Code)
	assert.Equal(t, []string{"bench pour"}, h.moves())
}

func TestBook(t *testing.T) {
	s, _ := newServer(t, nil)
	for _, path := range []string{"/api/book", "/api/book/x", "/api/compare?a=x&b=y"} {
		assert.Equal(t, http.StatusNotFound, do(s, request("GET", path, "")).Code, path)
	}
	s, _ = newServer(t, func(c *Config) { c.Book = fakeBook{} })
	for path, want := range map[string]int{
		"/api/book": 200, "/api/book/a261125": 200, "/api/book/none": 404, "/api/compare?a=a261125&b=c261124": 200,
		"/api/compare?a=a261125": 400, "/api/compare?a=a261125&b=none": 404,
	} {
		assert.Equal(t, want, do(s, request("GET", path, "")).Code, path)
	}
}

// The list and the comparison are drawn by the server: no script is needed to
// search and to compare.
func TestTheBookIsDrawnByTheServer(t *testing.T) {
	s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	get := func(path string) (int, string) {
		r := do(s, request("GET", path, ""))
		return r.Code, r.Body.String()
	}
	code, body := get("/book")
	assert.Equal(t, 200, code)
	assert.Contains(t, body, `<a class="batch" href="/book/a261125">a261125</a>`)
	assert.Contains(t, body, `name="mark" value="c261124"`)
	code, body = get("/book?find=nowhere")
	assert.Equal(t, 200, code)
	assert.Contains(t, body, "No batch matches.")
	assert.Contains(t, body, `value="nowhere"`)
	code, body = get("/book?find=" + url.QueryEscape("quartz >"))
	assert.Equal(t, 409, code)
	assert.Contains(t, body, "no amount stands behind &gt;")
	_, body = get("/book?find=" + url.QueryEscape(`"><script>alert(1)</script>`))
	assert.NotContains(t, body, "<script>alert")
	code, body = get("/compare?mark=a261125&mark=c261124&mark=b")
	assert.Equal(t, 404, code)
	assert.Contains(t, body, "There is no batch “b”.")
	code, body = get("/compare?mark=a261125")
	assert.Equal(t, 400, code)
	assert.Contains(t, body, "Select two batches or more")
	code, body = get("/compare?a=a261125&b=c261124")
	assert.Equal(t, 200, code)
	assert.Contains(t, body, "it can.")
	assert.Contains(t, body, "<li>They were fired to other cones: 6 in a261125, 7 in c261124.</li>")
	assert.Contains(t, body, `data-label="difference">-0.050</td>`)
}
