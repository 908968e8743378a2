package web

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// No language makes a page wider than its window, and each page says which it is in. A choice
// holds from page to page.
func TestPagesHoldEachLanguage(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	defer visit(t, ctx, address+"/calc?lang="+text.All[0].Tag) // the tests behind it share the browser, and its choice
	for _, l := range text.All[1:] {
		visit(t, ctx, address+"/calc?lang="+l.Tag)
		for _, sz := range sizes {
			resize(t, ctx, sz)
			for _, p := range pages {
				path := p.Link()
				if len(p.looks) > 0 {
					path = p.looks[0]
				}
				visit(t, ctx, address+path)
				require.Equal(t, l.Tag, eval[string](t, ctx, `document.documentElement.lang`), path)
				assert.LessOrEqual(t, eval[float64](t, ctx, `document.documentElement.scrollWidth - document.documentElement.clientWidth`), 0.0, "%s in %s at %s", path, l.Tag, sz)
			}
		}
	}
}
