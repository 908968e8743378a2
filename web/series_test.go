package web

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/book"
	"tared/session/photo"
)

// seriesBook is a book with an invented series of two additions, of which one tile
// has a photograph, and one a photograph that is lost.
type seriesBook struct {
	fakeBook
	name string
}

func (b seriesBook) Series(_ context.Context, mark string) (book.Series, error) {
	if mark != "260302a" {
		return book.Series{}, fmt.Errorf("%q: %w", mark, ErrNoBatch)
	}
	s := book.Series{Mark: "260302a", Title: "Bath blue (invented)", Axes: []string{"Cobalt carbonate", "Rutile"},
		Grids: []book.Grid{{Cols: []string{"0.25", "0.5", "1"}, Rows: []string{"0", "4"}}}}
	for y := range 2 {
		var row []book.Spot
		for x := range 3 {
			row = append(row, book.Spot{Cup: fmt.Sprintf("260302a-%d", 3*y+x+1), State: book.Finished, Label: "x", Made: []string{"0.251", "4.003"}, Photos: []string{}})
		}
		s.Grids[0].Cells = append(s.Grids[0].Cells, row)
	}
	c := s.Grids[0].Cells
	c[0][0].Photos, c[0][0].Tile, c[0][0].Words = []string{b.name}, "KD-A", `<b onclick="x">even</b> blue, a little thin over the edges`
	c[0][1].Photos, c[0][1].Tile = []string{strings.Repeat("0", 64) + ".jpg"}, "KD-C"
	c[1][2] = book.Spot{Label: "Cobalt carbonate 1 %, Rutile 4 %", Photos: []string{}}
	c[1][1] = book.Spot{Photos: []string{}}
	return s, nil
}

func TestTheGridOfASeries(t *testing.T) {
	ctx, axe := axeTab(t)
	dir := t.TempDir()
	name, err := photo.Keep(dir, bytes.NewReader(tilePicture(t)))
	require.NoError(t, err)
	address, _ := served(t, func(c *Config) { c.Photos, c.Book = dir, seriesBook{name: name} })
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
	for _, words := range []string{"no photograph yet", "not weighed yet", "no such cup", "is named in the record and not on the disk: 00000000", `<b onclick="x">even</b>`, "Cobalt carbonate 0.25 %"} {
		assert.Contains(t, text, words)
	}
	visit(t, ctx, address+"/series/nothing")
	until(t, ctx, `!document.getElementById("trouble").hidden`)
	s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	assert.Equal(t, 404, do(s, request("GET", "/api/series/260302a", "")).Code)
}
