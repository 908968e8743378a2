package web

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// offLabel are the words that stand beyond their label or on its code, and letters that are
// smaller than 9 points at printed size, as the browser draws them.
const offLabel = `[...document.querySelectorAll(".sheet svg g")].flatMap((g) => {
  const edge = g.querySelector("rect").getBBox(), scale = g.querySelector("path").transform.baseVal, side = scale.getItem(1).matrix.a;
  const code = { x: scale.getItem(0).matrix.e, y: scale.getItem(0).matrix.f, of: g.querySelector("path").getBBox().width * side };
  return [...g.querySelectorAll("text")].flatMap((t) => {
    const r = t.getBBox(), faults = [];
    if (r.x < 0 || r.x + r.width > edge.width || r.y + r.height > edge.height) faults.push("beyond the label: " + t.textContent);
    if (r.x + r.width > code.x && r.y < code.y + code.of && r.y + r.height > code.y) faults.push("on the code: " + t.textContent);
    if (parseFloat(t.getAttribute("font-size")) < 9 * 25.4 / 72) faults.push("too small: " + t.textContent);
    return faults;
  });
})`

// Each sheet of labels holds what stands on it, in each language, and is one page of its
// paper.
func TestLabelsHoldTheirWords(t *testing.T) {
	ctx, check := axeTab(t)
	address, _ := served(t, nil)
	defer visit(t, ctx, address+"/calc?lang="+text.All[0].Tag) // the tests behind it share the browser
	for _, l := range text.All {
		visit(t, ctx, address+"/label/c261124?lang="+l.Tag)
		for _, paper := range []string{"a4", "letter"} {
			visit(t, ctx, address+"/label/c261124?paper="+paper)
			for _, to := range eval[[]string](t, ctx, `[...document.querySelectorAll(".sheets:last-of-type a")].map((a) => a.getAttribute("href"))`) {
				visit(t, ctx, address+"/label/c261124"+to)
				assert.Empty(t, eval[[]string](t, ctx, offLabel), "%s %s", l.Tag, to)
				assert.Positive(t, eval[int](t, ctx, `document.querySelectorAll(".sheet svg g").length`))
				assert.Equal(t, 2, eval[int](t, ctx, `document.querySelectorAll(".sheets [aria-current]").length`), to)
			}
			pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
			require.NoError(t, err)
			width := map[string]float64{"a4": 210, "letter": 215.9}[paper]
			assert.Equal(t, []string{fmt.Sprintf("%.0f", width)}, pageWidths(string(pdf)), "%s %s", l.Tag, paper)
		}
	}
	check("labels")
}
