package help

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEveryFileHasItsPlace(t *testing.T) {
	in, err := files.ReadDir("en")
	require.NoError(t, err)
	assert.Len(t, in, len(order))
	for _, topic := range (Book{}).Topics("en") {
		assert.True(t, strings.HasPrefix(topic.Text, "# "), topic.Name)
		assert.NotEmpty(t, topic.Title)
		assert.Contains(t, string(topic.HTML()), "<h1>")
	}
	assert.Equal(t, Book{}.Topics("en"), Book{}.Topics("xx"), "a language that has no file of its own reads English")
	assert.Equal(t, Book{}.Topics("es"), Book{}.Topics("es-MX"), "a country reads the pages of its language")
	assert.NotEqual(t, Book{}.Topics("en"), Book{}.Topics("es"))
}

// Each link leads to a page that is there, to a heading that is there, or to a picture that is
// there and no larger than a page may load without a thought.
func TestLinksAreWhole(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)]*)\)`)
	all := Book{}.Topics("en")
	has := func(name, anchor string) bool {
		for _, topic := range all {
			if topic.Name == name {
				return anchor == "" || strings.Contains(topic.Text, " {#"+anchor+"}")
			}
		}
		return false
	}
	for _, topic := range all {
		for _, m := range link.FindAllStringSubmatch(topic.Text, -1) {
			if name, ok := strings.CutPrefix(m[1], "picture/"); ok {
				b, err := Picture(name)
				require.NoError(t, err, "%s: %s", topic.Name, m[1])
				assert.LessOrEqual(t, len(b), 400<<10, m[1])
				continue
			}
			page, anchor, _ := strings.Cut(m[1], "#")
			name, ok := strings.CutSuffix(page, ".md")
			if page == "" {
				name, ok = topic.Name, true
			}
			assert.True(t, ok && has(name, anchor), "%s leads to %s, which is not there", topic.Name, m[1])
		}
		assert.NotRegexp(t, `\]\([^)]*\.md`, string(topic.HTML()), "%s leads to a file", topic.Name)
	}
}

// A heading has one name in all of the help, for 'tared help NAME'.
func TestHeadingsHaveOneName(t *testing.T) {
	seen := map[string]string{}
	for _, topic := range (Book{}).Topics("en") {
		for _, s := range topic.sections() {
			if was, twice := seen[s.Name]; twice && topic.Name != Troubles && was != Troubles {
				t.Errorf("%s is a heading of %s and of %s", s.Name, was, topic.Name)
			}
			seen[s.Name] = topic.Name
			got, ok := Book{}.Topic("en", s.Name)
			assert.True(t, ok && got.Text != "", s.Name)
		}
	}
}

// Each error that has a section leads to one that is there, and each section is led to.
func TestTroublesAreLedTo(t *testing.T) {
	troubles, ok := Book{}.Topic("en", Troubles)
	require.True(t, ok)
	led, codes := map[string]bool{}, map[string]bool{}
	all, err := filepath.Glob("../../session/text/en/*.json")
	require.NoError(t, err)
	for _, file := range all {
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		var said map[string]any
		require.NoError(t, json.Unmarshal(b, &said))
		area := strings.TrimSuffix(filepath.Base(file), ".json")
		codes[area] = true
		for code := range said {
			codes[area+"."+code] = true
		}
	}
	for code, section := range sections {
		led[section] = true
		assert.True(t, codes[code], "%s is no code", code)
		assert.Contains(t, troubles.Text, " {#"+section+"}", code)
	}
	for _, s := range troubles.sections() {
		assert.True(t, led[s.Name], "nothing leads to %s", s.Name)
	}
}

func TestFind(t *testing.T) {
	b := Book{Parts: map[string]string{"formats": "## wn-prefix {#wn-prefix}\n\n    WN0012.3g\n"}}
	assert.Contains(t, b.Find("en", "print KEY"), Place{"troubleshooting#silent", "Troubleshooting: Nothing comes from the scale"})
	assert.Contains(t, b.Find("en", "wn0012"), Place{"my-scale#wn-prefix", "My scale shows …: wn-prefix"})
	assert.Empty(t, b.Find("en", "xylophone"))
	assert.Empty(t, b.Find("en", " "))
}

func TestPlainFitsATerminal(t *testing.T) {
	for _, topic := range (Book{}).Topics("en") {
		for line := range strings.Lines(topic.Plain()) {
			if !strings.HasPrefix(line, " ") && !strings.HasPrefix(line, "|") {
				assert.LessOrEqual(t, len([]rune(strings.TrimSpace(line))), terminal, "%s: %s", topic.Name, line)
			}
		}
		assert.NotContains(t, topic.Plain(), ".md")
	}
	assert.Equal(t, "Voici\u00a0:\n", Topic{Text: "Voici\u00a0:"}.Plain(), "what belongs to a word stays with it")
}
