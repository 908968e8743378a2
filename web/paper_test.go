package web

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// papers are A4 and US letter less the margins of 14 mm, at 96 pixels to the inch.
var papers = map[string]size{"A4": {688, 1017}, "letter": {710, 950}}

// offPaper are the words that lie outside the paper or are cut off by what they lie in.
const offPaper = `(() => {
  const faults = [], edge = document.documentElement.clientWidth + 1;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode()); ) {
    const el = n.parentElement;
    if (!n.textContent.trim() || !el.checkVisibility() || el.closest("svg, option, .unseen, thead .unseen, script, style")) continue;
    const range = document.createRange();
    range.selectNodeContents(n);
    for (const r of range.getClientRects()) {
      if (r.width < 1) continue;
      if (r.right > edge || r.left < -1) faults.push("beyond the paper: " + n.textContent.trim());
      for (let e = el; e && e !== document.body; e = e.parentElement) {
        const q = e.getBoundingClientRect(), o = getComputedStyle(e);
        if (o.overflowX !== "visible" && (r.right > q.right + 1.5 || r.left < q.left - 1.5)) faults.push("cut off: " + n.textContent.trim());
      }
    }
  }
  return [...new Set(faults)];
})()`

// What is printed is complete: every column stands on the paper, and nothing of it is cut.
func TestPaperIsComplete(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	for _, p := range []struct {
		path    string
		columns []string
	}{
		{"/sheet", []string{"No.", "Material", "Share", "Target", "Band", "Scale", "U", "Went in"}},
		{"/book/c261124", []string{"Material", "Target", "Went in", "Deviation", "U", "Share planned", "Share made", "Scale", "Verdict"}},
		{"/book", []string{"Batch", "Recipe", "When", "By", "Base, g", "Result"}},
		{"/compare?a=a261125&b=c261124", []string{"Material", "a261125", "c261124", "Difference", "Joint U", "Do they differ?"}},
		{"/stock", nil},
		{"/label/c261124", nil},
	} {
		for name, paper := range papers {
			t.Run(name+p.path, func(t *testing.T) {
				media(t, ctx)
				resize(t, ctx, size{1280, 800})
				visit(t, ctx, address+p.path)
				until(t, ctx, ready)
				if p.path == "/sheet" {
					until(t, ctx, `document.getElementById("recipe").value !== ""`)
					press(t, ctx, `document.querySelector("#form button[type=submit]")`)
					until(t, ctx, `document.querySelectorAll("#rows tr").length === 7`)
				}
				resize(t, ctx, paper)
				_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
				require.NoError(t, err)
				eval[bool](t, ctx, `dispatchEvent(new Event("beforeprint"))`)
				settle(t, ctx)
				file := strings.Trim(regexp.MustCompile(`\W+`).ReplaceAllString(p.path, "-"), "-")
				shot(t, ctx, "paper-"+file+"-"+name, true)
				assert.Empty(t, eval[[]string](t, ctx, offPaper))
				seen := eval[[]string](t, ctx, `[...document.querySelectorAll("thead th")].filter((e) => e.checkVisibility() && e.getBoundingClientRect().width > 1).map((e) => e.innerText.trim()).filter(Boolean)`)
				if p.columns != nil {
					assert.Subset(t, seen, p.columns)
				}
				// As a browser prints it: no page is empty, and nothing of the screen's furniture is on it.
				assert.False(t, eval[bool](t, ctx, `[...document.querySelectorAll(".head, .tray, .foot, .press, input, select")].some((e) => e.checkVisibility())`))
				kind := chromedp.PaperA4
				if name == "letter" {
					kind = chromedp.PaperLetter
				}
				pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(kind)))
				require.NoError(t, err)
				assert.Contains(t, string(pdf[:8]), "%PDF")
				if dir := os.Getenv("TARED_SHOTS"); dir != "" {
					require.NoError(t, os.WriteFile(filepath.Join(dir, fmt.Sprintf("paper-%s-%s.pdf", file, name)), pdf, 0o644))
				}
			})
		}
	}
}

// Every page prints in the longest language on both papers: nothing is cut or beyond the
// paper, each column that a table has is there, its heads come again on each page, and no row
// is broken.
func TestEveryPagePrints(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, func(c *Config) { c.Bench = manyLots{c.Bench.(*fakeBench), 200} })
	visit(t, ctx, address+"/calc?lang=de")
	defer visit(t, ctx, address+"/calc?lang=en") // the tests behind it share the browser
	for _, p := range looks() {
		for name, paper := range papers {
			t.Run(name+"/"+p.name, func(t *testing.T) {
				media(t, ctx)
				resize(t, ctx, size{1280, 800})
				visit(t, ctx, address+p.path)
				until(t, ctx, ready)
				columns := `[...document.querySelectorAll("thead th:not(:has(.unseen)):not(.onlyprint)")].filter((e) => e.checkVisibility()).map((e) => e.textContent.trim())`
				onScreen := eval[[]string](t, ctx, columns)
				resize(t, ctx, paper)
				_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
				require.NoError(t, err)
				eval[bool](t, ctx, `dispatchEvent(new Event("beforeprint"))`)
				settle(t, ctx)
				shot(t, ctx, "print-"+p.name+"-"+name, true)
				assert.Empty(t, eval[[]string](t, ctx, offPaper))
				assert.Subset(t, eval[[]string](t, ctx, columns), onScreen)
				assert.True(t, eval[bool](t, ctx, `[...document.querySelectorAll("thead")].every((e) => getComputedStyle(e).display === "table-header-group")`))
				assert.True(t, eval[bool](t, ctx, `[...document.querySelectorAll("tbody tr")].every((e) => getComputedStyle(e).breakInside === "avoid")`))
				assert.False(t, eval[bool](t, ctx, `[...document.querySelectorAll(".head, .tray, .foot, .press, .leaves")].some((e) => e.checkVisibility())`))
				kind := chromedp.PaperA4
				if name == "letter" {
					kind = chromedp.PaperLetter
				}
				pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(kind)))
				require.NoError(t, err)
				assert.NotEmpty(t, pageWidths(string(pdf)))
			})
		}
	}
}

// pageWidths are those of the pages of a PDF, in whole millimetres.
func pageWidths(pdf string) (all []string) {
	for _, m := range regexp.MustCompile(`/MediaBox \[0 0 ([0-9.]+) `).FindAllStringSubmatch(pdf, -1) {
		w, _ := strconv.ParseFloat(m[1], 64)
		all = append(all, fmt.Sprintf("%.0f", w*25.4/72))
	}
	return all
}
