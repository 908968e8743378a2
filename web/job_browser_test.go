package web

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The job of a first time, once the mixing is done: water, gravity, label, firing, a verdict
// with its photograph. It took 31 touches and 19 fields on the pages before, by a recording
// of 30 November 2026; half of the touches is the aim. A touch is a click or a choice of a
// file; a field is one that something is typed into.
func TestWhatComesAfterTheMixingTakesFewTouches(t *testing.T) {
	ctx := tab(t)
	dir := t.TempDir()
	b := newFakeBench()
	b.show(whiting())
	address, _ := served(t, func(c *Config) { c.Bench, c.Photos = b, dir })
	file := filepath.Join(t.TempDir(), "tile.jpg")
	require.NoError(t, os.WriteFile(file, tilePicture(t), 0o600))

	touches, fields := 0, 0
	touch := func(what string) {
		t.Helper()
		touches++
		press(t, ctx, what)
		settle(t, ctx)
	}
	write := func(id, words string) {
		t.Helper()
		fields++
		require.NoError(t, chromedp.Do(ctx, chromedp.SendKeys(chromedp.CSS(id), words)))
	}
	saved := func(n int) {
		t.Helper()
		until(t, ctx, `document.activeElement.id === "after-title"`)
		require.Len(t, b.requests(), n)
		eval[bool](t, ctx, `document.activeElement.blur(), true`)
	}
	q := func(css string) string { return `document.querySelector('` + css + `')` }

	visit(t, ctx, address+"/book/c261124")
	until(t, ctx, ready)
	// Words in view when the page opens at the bench's own screen.
	resize(t, ctx, size{1280, 800})
	settle(t, ctx)
	inView := eval[int](t, ctx, `(() => { let n = 0; const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
		for (let x; (x = walk.nextNode()); ) { const r = x.parentElement.getBoundingClientRect(); if (x.parentElement.checkVisibility() && r.top < innerHeight && r.bottom > 0) n += x.textContent.trim().split(/\s+/).filter(Boolean).length; } return n; })()`)

	touch(q("#water > summary"))
	write("#w-added", "675")
	write("#w-by", "Mara")
	touch(q("#water button.first"))
	saved(1)

	touch(q("#water > summary"))
	write("#w-sample", "145.0")
	eval[bool](t, ctx, `document.querySelectorAll("#water .fold").forEach((d) => { d.open = true; }), true`)
	touches++ // the fold with the volume of a vessel that was never measured
	write("#w-volume", "100")
	touch(q("#water button.first"))
	saved(2)
	assert.Equal(t, "Mara", b.requests()[1].By, "a name is typed once")
	assert.Equal(t, "675g", b.requests()[0].Watered.Added, "a bare number")
	assert.Equal(t, "100ml", b.requests()[1].Watered.Volume)

	touch(q("#firing > summary"))
	write("#f-cone", "6")
	touch(q("#firing button.first"))
	saved(3)

	touches++ // the key that takes a photograph
	require.NoError(t, chromedp.Do(ctx, chromedp.SetUploadFiles(chromedp.CSS("#shoot"), []string{file})))
	until(t, ctx, `document.getElementById("verdict").open && document.activeElement.id === "j-verdict"`)
	write("#j-verdict", "glossy, keep")
	touch(q("#verdict button.first"))
	saved(4)
	require.Len(t, b.requests()[3].Judged.Photos, 1)

	touch(q("#label")) // and it is printed by its key
	until(t, ctx, `location.pathname === "/label/c261124"`)
	touches++

	t.Logf("%d touches, %d fields, %d words in view", touches, fields, inView)
	assert.LessOrEqual(t, touches, 15, "half of 31")
	assert.LessOrEqual(t, fields, 9, "half of 19")
	assert.LessOrEqual(t, inView, 130, "words in view")
}
