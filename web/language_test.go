package web

import (
	"encoding/json"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// A page comes in the first language that its reader's browser knows; a choice on the page
// comes before that, for this browser alone, and holds.
func TestEachReaderHasTheirLanguage(t *testing.T) {
	s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	ask := func(path, accept, cookie string) string {
		r := request("GET", path, "")
		r.Header.Set("Accept-Language", accept)
		if cookie != "" {
			r.AddCookie(&http.Cookie{Name: languageCookie, Value: cookie})
		}
		return do(s, r).Body.String()
	}
	for _, l := range text.All {
		for _, p := range pages {
			for _, path := range p.addresses() {
				body := ask(path, l.Tag+",ja;q=0.5", "")
				assert.Contains(t, body, `<html lang="`+l.Tag+`" dir="`+l.Dir+`"`, path)
				assert.Contains(t, body, l.Say(text.New("page.menu")), path)
				if l.Digits("0.1") == "0,1" {
					assert.NotRegexp(t, `>[−+-]?[0-9]+\.[0-9]+[ \x{a0}\x{202f}]%`, body, "%s %s: a share in another country's digits", l.Tag, path)
				}
			}
		}
	}
	assert.Contains(t, ask("/calc", "de", "fr"), `<html lang="fr"`, "the choice comes first")
	assert.Contains(t, ask("/calc", "de", "nonsense"), `<html lang="de"`)
	assert.Contains(t, ask("/calc", "", ""), `<html lang="en-GB"`)

	r := request("GET", "/book?find=quartz&lang=es", "")
	w := do(s, r)
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, "/book?find=quartz", w.Header().Get("Location"), "the same page")
	require.Len(t, w.Result().Cookies(), 1)
	assert.Equal(t, "es", w.Result().Cookies()[0].Value)
	assert.Contains(t, ask("/book?find=quartz", "", ""), `href="/book?find=quartz&amp;lang=es" lang="es"`)
}

// What is refused is refused in the language of who asked.
func TestFaultsAreTold(t *testing.T) {
	s, _ := newServer(t, nil)
	for _, l := range text.All {
		r := request("POST", "/api/do", `{"word":""}`)
		r.Header.Set("Accept-Language", l.Tag)
		var f fault
		require.NoError(t, json.Unmarshal(do(s, r).Body.Bytes(), &f))
		assert.Equal(t, fault{Error: l.Say(text.New("page.api.no-word")), Code: "page.api.no-word"}, f)
	}
}
