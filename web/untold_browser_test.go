package web

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// untold are words that a page shows, or that a screen reader speaks, which no sentence of a
// file has said: they stand outside of the brackets of the pseudo-language, and have none of
// its accents. The choice of a language, what is marked as English (sources), chemical signs, and
// what a machine reads are the same in each language.
const untold = `(() => {
	const left = (words) => {
		for (let was; was !== words; ) { was = words; words = words.replace(/⟦[^⟦⟧]*⟧/g, " "); }
		return /[áêïöü]/.test(words) ? "" : words;
	};
	const all = new Set(), look = (words) => { if (/[a-z]{3}/i.test(left(words).replace(/\b(?:[A-Z][a-z]?\d?)+\b/g, ""))) left(words).split(" · ").forEach((part) => all.add(part)); };
	const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let n; (n = walk.nextNode()); ) {
		const el = n.parentElement;
		if (el.checkVisibility({ visibilityProperty: true }) && !el.closest("script, style, noscript, code, pre, kbd, textarea, .languages, .mark, [lang=en]")) look(n.textContent);
	}
	for (const name of ["aria-label", "title", "placeholder", "alt"]) for (const el of document.querySelectorAll("[" + name + "]")) look(el.getAttribute(name));
	return [...all];
})()`

var noLetters = regexp.MustCompile(`[^\pL]+`)

// Each word of each page is said by a sentence of a file, or is the workshop's own, which the
// fakes of these tests hold. The help is held by its own files, one a language.
func TestEachWordOfAPageIsOfAFile(t *testing.T) {
	files, err := filepath.Glob("*_test.go")
	require.NoError(t, err)
	var data strings.Builder
	for _, f := range files {
		if !strings.HasSuffix(f, "browser_test.go") || f == "browser_test.go" {
			b, err := os.ReadFile(f)
			require.NoError(t, err)
			data.Write(b)
		}
	}
	own := noLetters.ReplaceAllString(data.String(), " ")
	ctx := tab(t)
	address, _ := served(t, nil)
	defer visit(t, ctx, address+"/calc?lang=en")
	visit(t, ctx, address+"/calc?lang=qps")
	for _, sz := range []size{{390, 844}, {1280, 800}} {
		resize(t, ctx, sz)
		for _, p := range looks() {
			if strings.HasPrefix(p.path, "/help") {
				continue
			}
			unfolded(t, ctx, address+p.path)
			require.Equal(t, "qps", eval[string](t, ctx, `document.documentElement.lang`), p.path)
			for _, words := range eval[[]string](t, ctx, untold) {
				if is := strings.TrimSpace(noLetters.ReplaceAllString(words, " ")); !strings.Contains(own, is) {
					assert.Fail(t, "no sentence of a file says it", "%s %s: %s", sz, p.path, words)
				}
			}
			assert.Empty(t, eval[[]string](t, ctx, layout), "%s %s", sz, p.path)
		}
	}
}
