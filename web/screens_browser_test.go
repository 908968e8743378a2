package web

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

// The pictures of README.md show the pages as they are:
//
//	TARED_SHOTS=../testdata/screens go test ./web -run PicturesOfTheReadme
func TestPicturesOfTheReadme(t *testing.T) {
	ctx := tab(t)
	address, b := served(t, nil)
	for _, p := range []struct {
		name string
		size size
		path string
	}{{"bench", size{1280, 800}, "/"}, {"bench-phone", size{390, 844}, "/"}, {"book", size{1280, 800}, "/book/c261124"}} {
		resize(t, ctx, p.size)
		before := pouring(t, "pour", "ease", "122.9")
		b.show(before)
		visit(t, ctx, address+p.path)
		until(t, ctx, ready)
		if p.path == "/" {
			// The needle comes from the left, and is seen to come.
			until(t, ctx, showing(before))
			v := pouring(t, "pour", "ease", "124.6")
			v.Now.Detail = []text.Message{text.New("bench.ease-more")}
			b.show(v)
			until(t, ctx, showing(v))
			until(t, ctx, `!document.getAnimations().some((a) => a.effect.target.className === "bar-at")`)
			assert.Equal(t, "Ease", eval[string](t, ctx, `document.getElementById("word").textContent`))
			assert.Equal(t, "2.9", eval[string](t, ctx, `document.getElementById("digits").textContent`))
		}
		png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
		require.NoError(t, err)
		assert.Greater(t, len(png), 10_000, p.name)
		if dir := os.Getenv("TARED_SHOTS"); dir != "" {
			require.NoError(t, os.WriteFile(dir+"/"+p.name+".png", png, 0o644))
		}
	}
}
