package web

import (
	"context"
	"fmt"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// fakePrinter remembers what it was to print.
type fakePrinter struct {
	mu  sync.Mutex
	got []string
}

func (p *fakePrinter) Print(_ context.Context, mark, link string, count int) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.got = append(p.got, fmt.Sprint(mark, " ", count, " ", link))
	if count > 5 {
		return text.Refuse("label.print-count", text.Count("count", count), text.Number("most", "5"))
	}
	return nil
}

// A press prints the label, in each size of window, and the page says what became of it.
func TestALabelIsPrintedByAPress(t *testing.T) {
	ctx, check := axeTab(t)
	p := &fakePrinter{}
	address, _ := served(t, func(c *Config) { c.Printer, c.Link = p, "http://192.168.178.40:7410/" })
	visit(t, ctx, address+"/label/c261124")
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#to-printer button"))))
	until(t, ctx, `document.getElementById("done").textContent.includes("with the printer")`)
	shot(t, ctx, "label-printer", true)
	check("label printed")
	for _, count := range []string{"3", "9", "two"} {
		eval[int](t, ctx, `document.getElementById("copies").value = "`+count+`", 1`)
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#to-printer button"))))
		until(t, ctx, `!document.getElementById("done").textContent.includes("…")`)
		assert.Equal(t, count == "9", eval[bool](t, ctx, `!document.getElementById("trouble").hidden`), count)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	at := " http://192.168.178.40:7410/"
	assert.Equal(t, []string{"c261124 1" + at, "c261124 3" + at, "c261124 9" + at, "c261124 0" + at}, p.got)
}

// Where there is no printer there is no button.
func TestNoPrinterNoButton(t *testing.T) {
	s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{} })
	assert.NotContains(t, do(s, request("GET", "/label/c261124", "")).Body.String(), "to-printer")
	assert.Equal(t, 405, do(s, request("POST", "/api/print", `{"batch":"c261124","count":1}`)).Code)
	s, _ = newServer(t, func(c *Config) { c.Book, c.Printer, c.Pair = fakeBook{}, &fakePrinter{}, true })
	assert.Equal(t, 401, do(s, request("POST", "/api/print", `{"batch":"c261124","count":1}`)).Code)
	assert.NotContains(t, do(s, request("GET", "/label/c261124", "")).Body.String(), "to-printer")
}
