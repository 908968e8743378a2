package help

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/text"
)

func TestEveryFileHasItsPlace(t *testing.T) {
	in, err := files.ReadDir("en")
	require.NoError(t, err)
	assert.Len(t, in, len(order))
	for _, topic := range (Book{}).Topics(text.English) {
		assert.True(t, strings.HasPrefix(topic.Text, "# "), topic.Name)
		assert.NotEmpty(t, topic.Title)
		assert.Contains(t, string(topic.HTML()), "<h1>")
	}
	assert.Equal(t, Book{}.Topics(text.English), Book{}.Topics(&text.Language{Tag: "xx"}), "a language that has no file of its own reads English")
	assert.Equal(t, Book{}.Topics(text.Named("es")), Book{}.Topics(text.Named("es-MX")), "a country reads the pages of its language")
}

// Each link leads to a page that is there, to a heading that is there, or to a picture that is
// there and no larger than a page may load without a thought.
func TestLinksAreWhole(t *testing.T) {
	for _, l := range text.All {
		linksAreWhole(t, Book{}.Topics(l))
	}
}

func linksAreWhole(t *testing.T, all []Topic) {
	link := regexp.MustCompile(`\]\(([^)]*)\)`)
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

// typed is what stands the same in each language: what is typed, and the names of headings, of parts
// that the program makes and of where a link leads.
var typed = regexp.MustCompile("`[^`\n]+`|(?m)^ {4,}.*$|\\{#[a-z0-9-]+\\}|\\{\\{[a-z]+\\}\\}|\\]\\([^)]*\\)")

// Each page is there in each language, and has there what is typed, and in its order the headings.
func TestEachLanguageHasTheSame(t *testing.T) {
	set := func(page string) []string {
		all := typed.FindAllString(page, -1)
		for i, s := range all {
			all[i] = strings.TrimSpace(s)
		}
		slices.Sort(all)
		return slices.Compact(all)
	}
	names := func(page string) (all []string) {
		for _, s := range (Topic{Text: page}).sections() {
			all = append(all, s.Name)
		}
		return all
	}
	for _, l := range text.All {
		stem, _, _ := strings.Cut(l.Tag, "-")
		for _, name := range order {
			b, err := files.ReadFile(stem + "/" + name + ".md")
			if !assert.NoError(t, err) {
				continue
			}
			english, own := source("en", name), string(b)
			assert.Equal(t, set(english), set(own), "%s/%s.md", stem, name)
			assert.Equal(t, names(english), names(own), "%s/%s.md", stem, name)
			assert.Regexp(t, `^# `, own, "%s/%s.md", stem, name)
		}
	}
}

// A country spells as it does elsewhere.
func TestACountrySpellsItsOwnWay(t *testing.T) {
	assert.Contains(t, Book{}.Topics(text.Named("de"))[0].Text, "ß")
	for _, topic := range (Book{}).Topics(text.Named("de-CH")) {
		assert.NotContains(t, topic.Text, "ß", topic.Name)
	}
}

// A heading has one name in all of the help, for 'tared help NAME'.
func TestHeadingsHaveOneName(t *testing.T) {
	seen := map[string]string{}
	for _, topic := range (Book{}).Topics(text.English) {
		for _, s := range topic.sections() {
			if was, twice := seen[s.Name]; twice && topic.Name != Troubles && was != Troubles {
				t.Errorf("%s is a heading of %s and of %s", s.Name, was, topic.Name)
			}
			seen[s.Name] = topic.Name
			got, ok := Book{}.Topic(text.English, s.Name)
			assert.True(t, ok && got.Text != "", s.Name)
		}
	}
}

// Each error that has a section leads to one that is there, and each section is led to.
func TestTroublesAreLedTo(t *testing.T) {
	troubles, ok := Book{}.Topic(text.English, Troubles)
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
	b := Book{Parts: map[string]func(*text.Language) string{"formats": func(*text.Language) string { return "## wn-prefix {#wn-prefix}\n\n    WN0012.3g\n" }}}
	assert.Contains(t, b.Find(text.English, "print KEY"), Place{"troubleshooting#silent", "Troubleshooting: Nothing comes from the scale"})
	assert.Contains(t, b.Find(text.English, "wn0012"), Place{"my-scale#wn-prefix", "My scale shows …: wn-prefix"})
	assert.Empty(t, b.Find(text.English, "xylophone"))
	assert.Empty(t, b.Find(text.English, " "))
}

func TestPlainFitsATerminal(t *testing.T) {
	for _, l := range text.All {
		plainFits(t, Book{}.Topics(l))
	}
}

func plainFits(t *testing.T, all []Topic) {
	for _, topic := range all {
		for line := range strings.Lines(topic.Plain()) {
			if !strings.HasPrefix(line, " ") && !strings.HasPrefix(line, "|") {
				assert.LessOrEqual(t, len([]rune(strings.TrimSpace(line))), terminal, "%s: %s", topic.Name, line)
			}
		}
		assert.NotRegexp(t, `\]\(|\.md\b`, topic.Plain(), topic.Name)
	}
	assert.Equal(t, "Voici\u00a0:\n", Topic{Text: "Voici\u00a0:"}.Plain(), "what belongs to a word stays with it")
}
