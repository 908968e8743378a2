package web

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/photo"
)

func TestTheGridOfASeries(t *testing.T) {
	ctx, axe := axeTab(t)
	dir := t.TempDir()
	name, err := photo.Keep(dir, bytes.NewReader(tilePicture(t)))
	require.NoError(t, err)
	address, _ := served(t, func(c *Config) { c.Photos, c.Book = dir, fakeBook{photo: name} })
	for _, sz := range sizes {
		resize(t, ctx, sz)
		visit(t, ctx, address+"/series/260302a")
		until(t, ctx, `document.querySelectorAll(".spot").length === 6 && document.querySelector(".spot img").naturalWidth > 0`) // the photograph is shown
		settle(t, ctx)
		shot(t, ctx, "series-"+sz.String(), true)
		assert.Empty(t, eval[[]string](t, ctx, layout), sz)
		axe("series " + sz.String())
	}
	text := eval[string](t, ctx, `document.getElementById("main").textContent`)
	for _, words := range []string{"no photograph yet", "not weighed yet", "no such cup", "named in the record is not on the disk: 00000000", `<b onclick="x">even</b>`, "Cobalt carbonate 0.25\u00a0%"} {
		assert.Contains(t, text, words)
	}
	visit(t, ctx, address+"/series/nothing")
	until(t, ctx, `!document.getElementById("trouble").hidden`)
	s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	assert.Equal(t, 404, do(s, request("GET", "/api/series/260302c", "")).Code)
}
