package web

import (
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// sheets are the style sheets by their names.
func sheets(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, fs.WalkDir(pageFiles, "page", func(name string, _ fs.DirEntry, err error) error {
		if err == nil && path.Ext(name) == ".css" {
			var b []byte
			b, err = pageFiles.ReadFile(name)
			all[strings.TrimPrefix(name, "page/")] = string(b)
		}
		return err
	}))
	require.NotEmpty(t, all)
	return all
}

// TestColoursStandInOnePlace: what a page looks like in each scheme is read in one file.
func TestColoursStandInOnePlace(t *testing.T) {
	colour := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b[^{]*;|\b(?:rgb|hsl|lab|lch|oklab|oklch)a?\(|: (?:white|black|grey|gray|red|green|blue|yellow|orange)\b`)
	token, used := regexp.MustCompile(`(?m)(--[\w-]+):`), regexp.MustCompile(`var\((--[\w-]+)`)
	all := sheets(t)
	uses := map[string]bool{}
	for name, css := range all {
		if name != "vars.css" {
			for i, line := range strings.Split(css, "\n") {
				assert.NotRegexp(t, colour, line, "%s:%d", name, i+1)
			}
		}
		for _, of := range used.FindAllStringSubmatch(css, -1) {
			uses[of[1]] = true
		}
	}
	for name, css := range all {
		for _, of := range token.FindAllStringSubmatch(css, -1) {
			assert.True(t, uses[of[1]], "%s: nothing is of %s", name, of[1])
		}
	}
}

// TestEveryStyleIsOfSomething: a class or an id that no page has any more leaves no style.
func TestEveryStyleIsOfSomething(t *testing.T) {
	var pages strings.Builder
	require.NoError(t, fs.WalkDir(pageFiles, "page", func(name string, _ fs.DirEntry, err error) error {
		if err == nil && (path.Ext(name) == ".html" || path.Ext(name) == ".js") {
			var b []byte
			b, err = pageFiles.ReadFile(name)
			pages.Write(b)
		}
		return err
	}))
	have := map[string]bool{}
	for _, word := range regexp.MustCompile(`[\w-]+`).FindAllString(pages.String(), -1) {
		have[word] = true
	}
	drawn := []string{"band", "edge", "mid", "name", "word", "stem", "pin", "line", "dot", "mine", "dot-word", "zone-word", "zone-good", "zone-coarse", "zone-blind"} // by the packages that draw pictures
	rule, part := regexp.MustCompile(`([^{}]+)\{`), regexp.MustCompile(`[.#]([a-zA-Z][\w-]*)`)
	for name, css := range sheets(t) {
		css = regexp.MustCompile(`(?s)/\*.*?\*/|@import[^;]*;`).ReplaceAllString(css, "")
		for _, of := range rule.FindAllStringSubmatch(css, -1) {
			if strings.HasPrefix(strings.TrimSpace(of[1]), "@") {
				continue
			}
			for _, p := range part.FindAllStringSubmatch(of[1], -1) {
				assert.True(t, have[p[1]] || slices.Contains(drawn, p[1]), "%s: nothing is of %s", name, p[0])
			}
		}
	}
}

// TestSidesAreLogical: a language that runs from right to left needs no other style.
func TestSidesAreLogical(t *testing.T) {
	physical := regexp.MustCompile(`(?:margin|padding|border)-(?:left|right)\b|text-align: (?:left|right)|float: (?:left|right)|(?:^|[;{ ])(?:left|right): `)
	for name, css := range sheets(t) {
		if name == "bar.css" {
			continue // where a needle and a bar lie is geometry, not text
		}
		for i, line := range strings.Split(css, "\n") {
			assert.NotRegexp(t, physical, line, "%s:%d", name, i+1)
		}
	}
}

// What the system asks for and what a person chose look alike, and paper is never dark.
func TestDarkIsOneScheme(t *testing.T) {
	ctx := tab(t)
	address, _ := served(t, nil)
	visit(t, ctx, address+"/book")
	tokens := func() map[string]string {
		settle(t, ctx)
		return eval[map[string]string](t, ctx, `(() => {
  const all = {}, of = getComputedStyle(document.documentElement);
  for (const sheet of document.styleSheets) for (const rule of sheet.cssRules) for (const name of rule.style ?? []) if (name.startsWith("--") && name !== "--day" && name !== "--night") all[name] = of.getPropertyValue(name).trim();
  return all;
})()`)
	}
	choose := func(scheme string) { eval[string](t, ctx, `document.documentElement.dataset.scheme = "`+scheme+`"`) }
	bright := tokens()
	require.Equal(t, "#f5f3ee", bright["--paper"])
	choose("dark")
	night := tokens()
	assert.Equal(t, "#111417", night["--paper"])
	media(t, ctx, dark)
	assert.Equal(t, night, tokens())
	choose("system") // any word but light
	assert.Equal(t, night, tokens())
	choose("light")
	assert.Equal(t, bright, tokens())
	choose("dark")
	_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
	require.NoError(t, err)
	assert.Equal(t, bright, tokens())
	media(t, ctx)
}
