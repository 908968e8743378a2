package web

import (
	"io/fs"
	"path"
	"regexp"
	"strings"
	"testing"

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

// TestDarkIsOneScheme: what the system asks for and what a person chose look alike.
func TestDarkIsOneScheme(t *testing.T) {
	for _, name := range []string{"vars.css", "tones.css"} {
		tokens := sheets(t)[name]
		block := func(after string) []string {
			_, rest, found := strings.Cut(tokens, after)
			require.True(t, found, after)
			body, _, _ := strings.Cut(rest, "}")
			return strings.Fields(body)
		}
		assert.Equal(t, block(":root:not([data-scheme=light]) {"), block(":root[data-scheme=dark] {"), name)
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
