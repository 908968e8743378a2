package web

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"

	"tared/web/peers"
)

// The workshop page tells of other benches how each stands, in the reader's language.
func TestTheWorkshopTellsOfOtherBenches(t *testing.T) {
	s, _ := newServer(t, func(c *Config) {
		c.Peers = func() (all []peers.State) {
			for _, trouble := range []string{"", "unreachable", "unpaired", "refused", "older", "fork"} {
				all = append(all, peers.State{Bench: "8e5fffcf1b22aa", Sign: "MD", Lines: 12, Heard: moment, Since: moment, Trouble: trouble, Why: "line 2 is cut"})
			}
			return all
		}
	})
	for _, lang := range []string{"en", "de", "fr", "es"} {
		r := request("GET", "/workshop", "")
		r.Header.Set("Accept-Language", lang)
		w := do(s, r)
		assert.Equal(t, http.StatusOK, w.Code)
		assert.Contains(t, w.Body.String(), `id="peers"`)
		assert.Contains(t, w.Body.String(), "MD (8e5fffcf1b22)")
		assert.NotContains(t, w.Body.String(), "[peer.")
		assert.NotContains(t, w.Body.String(), "{day}")
	}
}
