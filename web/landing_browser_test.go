package web

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A link to a part of a page leads to that part: it is unfolded, in sight, and nothing lies
// over where it begins.
func TestALinkToAPartLandsOnIt(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	links := map[string]bool{"/book/c261124#after": true}
	for _, p := range looks() {
		visit(t, ctx, address+p.path)
		until(t, ctx, ready)
		for _, to := range eval[[]string](t, ctx, `[...document.querySelectorAll("a[href*='#']:not(.skip)")].map((a) => new URL(a.href)).filter((u) => u.host === location.host && u.hash.length > 1).map((u) => u.pathname + u.search + u.hash)`) {
			links[to] = true
		}
	}
	require.Greater(t, len(links), 5)
	for _, sz := range []size{{390, 844}, {1280, 800}, {844, 390}} {
		resize(t, ctx, sz)
		for to := range links {
			visit(t, ctx, "about:blank") // or it would be no new page
			visit(t, ctx, address+to)
			until(t, ctx, ready)
			settle(t, ctx)
			assert.Empty(t, eval[string](t, ctx, `(() => {
				const name = decodeURIComponent(location.hash.slice(1)), el = document.getElementById(name) ?? document.querySelector('[data-topic="' + CSS.escape(name) + '"]');
				if (!el) return "there is no such part";
				if (!el.checkVisibility()) return "it is not shown";
				const r = el.getBoundingClientRect(), first = [...el.querySelectorAll("*")].find((e) => e.checkVisibility() && e.getBoundingClientRect().height > 0 && !e.matches(".unseen")) ?? el;
				if (r.top < -1 || r.top > innerHeight - 40) return "it begins at " + r.top + " of " + innerHeight;
				const f = first.getBoundingClientRect(), over = document.elementFromPoint(f.left + Math.min(f.width, innerWidth) / 2, Math.max(f.top, 0) + Math.min(f.height, 20) / 2);
				return over && (el.contains(over) || over.contains(el)) ? "" : "over it lies " + (over?.outerHTML.slice(0, 90) ?? "nothing");
			})()`), fmt.Sprintf("%s %s", sz, to))
		}
	}
}
