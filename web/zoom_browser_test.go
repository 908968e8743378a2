package web

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
)

// roomy are the windows in which text is read at twice its size: a telephone both ways, a
// tablet on its side, a slight screen.
var roomy = []size{{390, 844}, {844, 390}, {1180, 820}, {1280, 800}}

// At twice the size of text (WCAG 2.2, 1.4.4) nothing of a page is cut, lies on something
// else, or is pushed off.
func TestTextAtTwiceItsSize(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	for _, sz := range roomy {
		resize(t, ctx, sz)
		for _, p := range looks() {
			t.Run(sz.String()+"/"+p.name, func(t *testing.T) {
				unfolded(t, ctx, address+p.path)
				eval[string](t, ctx, `document.documentElement.style.fontSize = "200%"`)
				settle(t, ctx)
				shot(t, ctx, fmt.Sprintf("twice-%s-%s", p.name, sz), true)
				// A table that is wider than the window is moved sideways where it stands.
				eval[int](t, ctx, `document.querySelectorAll(innerWidth < 900 ? ".none" : ".wide, .grid-box").forEach((d) => { d.style.overflow = "hidden"; d.style.visibility = d.scrollWidth > d.clientWidth ? "hidden" : ""; }), 1`)
				assert.Empty(t, eval[[]string](t, ctx, layout))
			})
		}
	}
}

// slight are what can be touched and is lower or narrower than a finger in a glove: links in
// a sentence may be, for the sentence stands around them.
const slight = `[...document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")].filter((el) => el.checkVisibility() && !el.closest(".unseen, .skip, #hands") && !el.matches(".unseen"))
  .filter((el) => !(el.tagName === "A" && el.closest("p, li, dd, caption, .soft") && getComputedStyle(el).display === "inline"))
  .map((el) => [el, (el.closest("label") ?? el).getBoundingClientRect()]).filter(([, r]) => r.height < 47.5 || r.width < 47.5).map(([el, r]) => el.tagName + "#" + el.id + " " + el.textContent.trim().slice(0, 20) + " " + Math.round(r.width) + "x" + Math.round(r.height))`

func TestNothingToTouchIsSmall(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	for _, sz := range []size{{390, 844}, {1280, 800}} {
		resize(t, ctx, sz)
		for _, p := range looks() {
			unfolded(t, ctx, address+p.path)
			assert.Empty(t, eval[[]string](t, ctx, slight), "%s %s", sz, p.name)
		}
	}
}
