//go:build unix

package main

import (
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/text"
)

// In the pseudo-language each sentence stands between brackets. What stands outside of them at
// the terminal are words of the command line, names, numbers and marks; two plain words in a row
// are a sentence that was left in the code.
var (
	inBrackets = regexp.MustCompile(`⟦[^⟦⟧]*⟧`)
	leftInCode = regexp.MustCompile(`\b[a-z]{2,} [a-z]{2,}\b`)
)

func unsaid(words string) string {
	for was := ""; was != words; {
		was, words = words, inBrackets.ReplaceAllString(words, "")
	}
	return words
}

func TestEveryCommandIsToldInTheReadersLanguage(t *testing.T) {
	root := newRoot()
	describe(root, text.Pseudo)
	every(root, func(cmd *cobra.Command) {
		if cmd.Parent() != nil && cmd.Parent().Name() == "calc" {
			return // topics: TestTopicsAreInEachLanguage
		}
		assert.True(t, strings.HasPrefix(cmd.Short, "⟦") && strings.HasSuffix(cmd.Short, "⟧"), "%s: %s", cmd.CommandPath(), cmd.Short)
		flag := func(f *pflag.Flag) {
			if !f.Hidden {
				assert.True(t, strings.HasPrefix(f.Usage, "⟦") && strings.HasSuffix(f.Usage, "⟧"), "%s --%s: %q", cmd.CommandPath(), f.Name, f.Usage)
			}
		}
		cmd.LocalNonPersistentFlags().VisitAll(flag)
		cmd.PersistentFlags().VisitAll(flag)
	})
}

// What help says at length in another language names the same flags, settings and words of JSON as
// the English, so that one who changes the English finds the others; and it fits a terminal.
func TestHelpInEachLanguageNamesTheSame(t *testing.T) {
	named := regexp.MustCompile(`--[a-z][a-z-]*|\{"kind":"\w+"|'tared [^']*'`)
	stands := regexp.MustCompile(`\b[A-Z]{3,}\b`) // for a file, a batch: each language has its word
	settings := regexp.MustCompile(`(?m)^ +[a-z_]+ *= [^#\n]*`)
	set := func(words string) map[string]bool {
		all := map[string]bool{}
		for _, w := range named.FindAllString(strings.ReplaceAll(words, "\n", " "), -1) {
			all[stands.ReplaceAllString(w, "…")] = true
		}
		for _, w := range settings.FindAllString(words, -1) {
			all[strings.TrimSpace(w)] = true
		}
		return all
	}
	files, err := fs.Glob(helpTexts, "help/*/*.txt")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		own, err := helpTexts.ReadFile(f)
		require.NoError(t, err)
		english, err := helpTexts.ReadFile("help/" + path.Base(f))
		require.NoError(t, err, "%s is of no command", f)
		long, _, _ := strings.Cut(string(english), examples)
		assert.Equal(t, set(long), set(string(own)), f)
		for _, line := range strings.Split(string(own), "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), helpWidth, "%s: %s", f, line)
		}
	}
	english, err := fs.Glob(helpTexts, "help/*.txt")
	require.NoError(t, err)
	for _, tag := range tags()[1:] {
		for _, f := range english {
			assert.Contains(t, files, "help/"+tag+"/"+path.Base(f))
		}
	}
}

// What the help makes of the tables of formats and of kinds is said in each language.
func TestTheTablesAreToldInEachLanguage(t *testing.T) {
	said := map[string]string{}
	for _, f := range protocol.All() {
		said["data.format-"+f.Name] = f.Summary
	}
	for _, k := range fact.Kinds {
		said["data.says-"+k.Name] = k.Says
		for _, r := range k.Readers {
			said["data.reader-"+string(r)] = string(r)
		}
	}
	for code, words := range said {
		assert.Equal(t, words, text.English.Pattern(code), code)
		for _, l := range text.All[1:] {
			assert.Equal(t, l.Pattern(code), l.Term(words), "%s: %s", l.Tag, code)
		}
	}
}

// What is wrong with a command line is said in the reader's language, our library's words too.
func TestUsageIsToldInTheReadersLanguage(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{
		{"--loud"}, {"no-such"}, {"plan"}, {"plan", "a", "b"}, {"plan", "--base"}, {"demo", "--speed", "x"}, {"help", "no-such"}, {"decode", "--format", "equalz"},
		{"scales", "--scale", "name=bench,port=/dev/ttyUSB0"}, {"export", "--as", "pdf", "--all"}, {"calc", "sugar"}, {"calc", "least", "step=0.1", "share=2%"}, {"calc", "slip"},
		{"stock", "--keep-left", "x", "--add", "Quartz"}, {"weigh", "nowhere.txt", "--base", "750g"}, {"recipe", "--diff", "1"}, {"vessel", "--lang"}, {"serve", "--listen", "x"},
	} {
		got := runTared(t, "", append([]string{"--lang", "qps"}, args...)...)
		assert.NotZero(t, got.code, args)
		for _, line := range strings.Split(strings.TrimSpace(got.err), "\n") {
			assert.Contains(t, line, "⟦", "%v", args)
			_, said, _ := strings.Cut(line, ": ") // behind the words of the command
			assert.NotRegexp(t, leftInCode, unsaid(said), "%v", args)
		}
	}
}

// A batch is told in the reader's language, and the journal has none of it.
func TestTheJournalHasNoLanguage(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	got := runTared(t, "", "demo", "--lang", "qps", "--auto", "--speed", "5", "--data", dir, "--listen", "127.0.0.1:0")
	require.Equal(t, exitDone, got.code, got.out+got.err)
	assert.Contains(t, got.out, "⟦")
	for _, line := range strings.Split(unsaid(got.out), "\n") {
		if !strings.Contains(line, "/") { // a path
			assert.NotRegexp(t, leftInCode, line)
		}
	}
	tables := regexp.MustCompile(`\b(material|band|made|recipe|verdict|to|in|finished|started|Record)\b`)
	assert.NotRegexp(t, tables, unsaid(got.out))
	list := runTared(t, "", "record", "--lang", "qps", "--data", dir)
	require.Equal(t, exitDone, list.code, list.err)
	assert.NotRegexp(t, tables, unsaid(list.out))
	lines, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	assert.NotContains(t, string(lines), "⟦")
	assert.NotContains(t, string(lines), "⟧")
}

// How well a scale can weigh a material is said in the reader's language, where it stands in the table and
// where the ways out are told; words that are typed, such as strong, stay.
func TestASheetIsToldInTheReadersLanguage(t *testing.T) {
	t.Parallel()
	for lang, word := range map[string]string{"en": "blind", "de": "blind", "fr": "aveugle", "es": "ciega", "qps": "⟦"} {
		got := runTared(t, "Quartz 50\nWhiting 50\n+ Cobalt carbonate 0.1\n", "plan", "-", "--lang", lang, "--base", "100g", "--scale", "name=bench,step=0.1g,max=2000g", "--data", t.TempDir())
		require.Equal(t, exitDone, got.code, got.out+got.err)
		assert.Regexp(t, `(?m)^  \+ Cobalt carbonate +strong .* bench +`+word, got.out, lang)
		assert.Regexp(t, `(?m)^.*Cobalt carbonate.*: .*`+word, got.out, lang)
		if lang != "en" {
			assert.NotRegexp(t, `\bgood\b`, unsaid(got.out), lang)
		}
	}
}
