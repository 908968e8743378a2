package web

import (
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

func startedBy(b *fakeBench) (by, base []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, r := range b.started {
		by, base = append(by, r.By), append(base, r.Base)
	}
	return by, base
}

// A batch begins with two touches: a recipe, or the last batch again, and a name. Nothing
// begins with one. A name that was typed is there the next time.
func TestTwoTouchesBeginABatch(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	b.show(sceneOf(t, "idle"))
	visit(t, ctx, address)
	drawn(t, ctx, sceneOf(t, "idle"))
	defer eval[bool](t, ctx, `localStorage.clear(), true`)
	touch := func(css string) {
		t.Helper()
		require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS(css))))
		settle(t, ctx)
	}
	begun := func(n int) {
		t.Helper()
		require.Eventually(t, func() bool { by, _ := startedBy(b); return len(by) == n }, patience, 1e7)
	}
	assert.True(t, eval[bool](t, ctx, `[...document.querySelectorAll("#begin-who button")].every((b) => b.disabled)`), "nobody begins nothing")
	assert.Contains(t, eval[string](t, ctx, `document.querySelector("[data-recipe]").textContent`), "last batch again", "it stands first")
	touch(`[data-recipe]`)
	assert.Equal(t, "true", eval[string](t, ctx, `document.querySelector("[data-recipe]").getAttribute("aria-pressed")`))
	by, _ := startedBy(b)
	assert.Empty(t, by)
	touch(`[data-by=Mara]`)
	begun(1)

	until(t, ctx, `document.querySelector("[data-recipe]").getAttribute("aria-pressed") === "false"`)
	touch(`[data-recipe]`)
	eval[bool](t, ctx, `document.getElementById("begin-name").value = "Odile", true`)
	touch(`#begin-go`)
	begun(2)
	by, base := startedBy(b)
	assert.Equal(t, []string{"Mara", "Odile"}, by)
	assert.Equal(t, base[0], base[1])
	assert.NotEmpty(t, base[0], "of the size that it had")

	visit(t, ctx, address)
	drawn(t, ctx, sceneOf(t, "idle"))
	assert.Equal(t, "Odile", eval[string](t, ctx, `document.getElementById("begin-name").value`), "remembered")
}

// By keys alone: Tab to the recipe and to the name.
func TestABatchBeginsByKeys(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	b.show(sceneOf(t, "idle"))
	visit(t, ctx, address)
	drawn(t, ctx, sceneOf(t, "idle"))
	defer eval[bool](t, ctx, `localStorage.clear(), true`)
	walk := func(css string) {
		t.Helper()
		for range 40 {
			require.NoError(t, chromedp.Do(ctx, chromedp.KeyEvent("\t")))
			time.Sleep(120 * time.Millisecond) // what comes faster is a scanner
			if eval[bool](t, ctx, fmt.Sprintf(`document.activeElement.matches(%q)`, css)) {
				return
			}
		}
		require.Fail(t, "not to be reached by Tab", css)
	}
	walk(`[data-recipe]`)
	tap(t, ctx, "Enter")
	until(t, ctx, `!document.querySelector("[data-by=Ilse]").disabled`)
	walk(`[data-by=Ilse]`)
	tap(t, ctx, "Enter")
	require.Eventually(t, func() bool { by, _ := startedBy(b); return len(by) == 1 && by[0] == "Ilse" }, patience, 1e7)
}

// One key goes from the system's wish to bright, as in sunlight, to dark, as in a workshop at
// night, and back; the choice is there the next time.
func TestOneKeyChangesTheScheme(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	visit(t, ctx, address)
	drawn(t, ctx, whiting())
	defer eval[bool](t, ctx, `localStorage.clear(), true`)
	at := func() string {
		return eval[string](t, ctx, `(document.documentElement.dataset.scheme ?? "system") + " " + getComputedStyle(document.body).backgroundColor`)
	}
	first := at()
	assert.Contains(t, first, "system")
	tap(t, ctx, "g")
	until(t, ctx, `document.documentElement.dataset.scheme === "light"`)
	bright := at()
	tap(t, ctx, "g")
	until(t, ctx, `document.documentElement.dataset.scheme === "dark"`)
	dim := at()
	assert.NotEqual(t, bright[len("light"):], dim[len("dark"):])
	visit(t, ctx, address)
	drawn(t, ctx, whiting())
	assert.Equal(t, dim, at(), "kept in this browser")
	tap(t, ctx, "g")
	until(t, ctx, `document.documentElement.dataset.scheme === undefined`)
	assert.Equal(t, first, at())
}

// A batch in work, as a demonstration begins with, is closed early from the page: behind the
// key for what is seldom wanted, held, and with a reason.
func TestABatchIsClosedEarlyFromThePage(t *testing.T) {
	ctx := tab(t)
	b, told := atBench(t, ctx, whiting())
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#more"))))
	until(t, ctx, `!document.getElementById("seldom").hidden && document.querySelector("#seldom-keys [data-word=abandon]") !== null`)
	require.NoError(t, chromedp.Do(ctx, chromedp.Click(chromedp.CSS("#seldom-keys [data-word=abandon]"))))
	assert.Empty(t, told(), "a touch closes nothing")
	eval[bool](t, ctx, `(() => { const at = document.querySelector("#seldom-keys [data-word=abandon]"); at.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true, button: 0 })); return true })()`)
	until(t, ctx, `!document.getElementById("ask-field").hidden`)
	eval[bool](t, ctx, `window.dispatchEvent(new PointerEvent("pointerup")), document.getElementById("ask-input").value = "only looking", document.getElementById("ask-input").focus(), true`)
	tap(t, ctx, "Enter")
	require.Eventually(t, func() bool { return len(b.commands()) == 1 }, patience, 1e7)
	assert.Equal(t, "abandon", b.commands()[0].Word)
	assert.Equal(t, "only looking", b.commands()[0].Rest)
}

// With 25 materials the yes is in sight at every size, the hands of a demonstration or not,
// and the words over it are few; what is in it is folded away.
func TestTheYesIsAlwaysInSight(t *testing.T) {
	ctx := tab(t)
	plain, b := served(t, nil)
	demo, c := served(t, func(c *Config) { c.Hands = &fakeHands{} })
	defer visit(t, ctx, plain+"/?lang=en")
	v := sceneOf(t, "reminder")
	v.Now.Headline, v.Now.Detail = text.New("bench.reminder"), []text.Message{text.New("bench.reminder-more")}
	for i := range 25 {
		v.Asked.Lines = append(v.Asked.Lines, text.Written(fmt.Sprintf("Material %d: holds free silica, which in dust scars the lungs and can cause cancer: mask on, wet-clean, no dry sweeping.", i)))
	}
	for _, l := range text.All {
		for _, at := range []struct {
			address string
			bench   *fakeBench
		}{{plain, b}, {demo, c}} {
			at.bench.show(v)
			visit(t, ctx, at.address+"/?lang="+l.Tag)
			until(t, ctx, told(v, l))
			for _, d := range devices {
				resize(t, ctx, d.size)
				settle(t, ctx)
				shot(t, ctx, fmt.Sprintf("yes-%s-%s", l.Tag, d.size), false)
				bottom := eval[float64](t, ctx, `document.querySelector(".answer").getBoundingClientRect().bottom - Math.min(innerHeight, document.getElementById("hands").hidden || getComputedStyle(document.getElementById("hands")).position !== "sticky" ? innerHeight : document.getElementById("hands").getBoundingClientRect().top)`)
				assert.LessOrEqual(t, bottom, 1.0, "%s in %s", d.name, l.Tag)
				assert.False(t, eval[bool](t, ctx, `document.getElementById("ask-know").open`))
			}
			assert.LessOrEqual(t, eval[int](t, ctx, `document.querySelector(".say").innerText.split(/\s+/).filter((w) => /\p{L}/u.test(w)).length`), 16, l.Tag)
		}
	}
}
