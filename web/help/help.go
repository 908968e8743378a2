// Package help holds the help: pages of Markdown, a directory for each language, and the
// pictures in them. The page shows them, 'tared help' prints them, and an error names the
// place that tells more.
//
// Prose stands in the files. What the program knows itself (formats, settings, kinds of
// line, commands) is made from its own tables, and put where a page says {{formats}}; see
// [Book]. Start with [Book.Topics]. To add a page: its file in en, and its name in order. To add a language: a
// directory of its tag; a page that it lacks is shown in English.
package help

import (
	"bytes"
	"embed"
	"html/template"
	"regexp"
	"strings"
	"sync"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"

	"tared/session/text"
)

//go:embed */*.md picture
var files embed.FS

// order is that of a newcomer, then of an engineer.
var order = []string{"plug-in", "my-scale", "first-batch", "tablet", "troubleshooting", "glossary", "guidance",
	"configuration", "api", "journal", "upgrade", "security"}

// Book is the help with what is made from the tables of the program.
type Book struct {
	Parts map[string]func(*text.Language) string // by the name in {{name}}, in Markdown
}

// Topic is one page of the help.
type Topic struct {
	Name  string // in addresses and on the command line
	Title string
	Text  string // Markdown, all of it
}

// Topics gives all pages in their order, in a language.
func (b Book) Topics(l *text.Language) []Topic {
	all := make([]Topic, len(order))
	for i, name := range order {
		page := l.Spelt(source(l.Tag, name))
		for part, made := range b.Parts {
			if here := "{{" + part + "}}"; strings.Contains(page, here) {
				page = strings.ReplaceAll(page, here, made(l))
			}
		}
		title, _, _ := strings.Cut(strings.TrimPrefix(page, "# "), "\n")
		all[i] = Topic{name, title, page}
	}
	return all
}

// source is the file of a page, in the language of a tag whatever its region.
func source(tag, name string) string {
	stem, _, _ := strings.Cut(tag, "-")
	b, err := files.ReadFile(stem + "/" + name + ".md")
	if err != nil {
		if b, err = files.ReadFile("en/" + name + ".md"); err != nil {
			panic(err) // the files are part of the program
		}
	}
	return string(b)
}

// Topic gives a page by its name, or the section of one by the name of its heading.
func (b Book) Topic(l *text.Language, name string) (Topic, bool) {
	for _, t := range b.Topics(l) {
		if t.Name == name {
			return t, true
		}
		for _, s := range t.sections() {
			if s.Name == name {
				return s, true
			}
		}
	}
	return Topic{}, false
}

// named is a heading with a name.
var named = regexp.MustCompile(`(?m)^## (.*) \{#([a-z0-9-]+)\}$`)

// sections are the parts of a page under headings with a name.
func (t Topic) sections() (all []Topic) {
	at := named.FindAllStringSubmatchIndex(t.Text, -1)
	for i, m := range at {
		end := len(t.Text)
		if i+1 < len(at) {
			end = at[i+1][0]
		}
		all = append(all, Topic{t.Text[m[4]:m[5]], t.Text[m[2]:m[3]], t.Text[m[0]:end]})
	}
	return all
}

// Find gives the sections that have all of these words, and pages where no section has them.
func (b Book) Find(l *text.Language, words string) (all []Place) {
	wanted := strings.Fields(strings.ToLower(words))
	has := func(t Topic) bool {
		text := strings.ToLower(t.Title + " " + t.Text)
		for _, w := range wanted {
			if !strings.Contains(text, w) {
				return false
			}
		}
		return len(wanted) > 0
	}
	for _, t := range b.Topics(l) {
		found := false
		for _, s := range t.sections() {
			if has(s) {
				found = true
				all = append(all, Place{t.Name + "#" + s.Name, t.Title + ": " + s.Title})
			}
		}
		if !found && has(t) {
			all = append(all, Place{t.Name, t.Title})
		}
	}
	return all
}

// Place is where something was found.
type Place struct{ Link, Title string }

var markdown = sync.OnceValue(func() goldmark.Markdown {
	return goldmark.New(goldmark.WithExtensions(extension.Table), goldmark.WithParserOptions(parser.WithHeadingAttribute()))
})

// HTML draws a page. What a file holds of HTML itself is left out.
func (t Topic) HTML() template.HTML {
	var b bytes.Buffer
	if err := markdown().Convert([]byte(links.ReplaceAllString(t.Text, "]($1$2)")), &b); err != nil {
		panic(err) // into memory
	}
	return template.HTML(b.String())
}

// links are those to other pages of the help, which are files beside each other where they are written.
var links = regexp.MustCompile(`\]\(([a-z-]+)\.md(#[a-z0-9-]+)?\)`)

var (
	pictures = regexp.MustCompile(`(?m)^!\[([^\]]*)\]\([^)]*\)`)
	anchors  = regexp.MustCompile(` \{#[a-z0-9-]+\}`)
	beside   = regexp.MustCompile(`\[([^\]]*)\]\((?:([a-z-]+)\.md)?(?:#([a-z0-9-]+))?\)`)
	code     = regexp.MustCompile("`([^`\n]*)`")
)

// Plain is a page for a terminal: as it is written, without what only a browser can use.
func (t Topic) Plain() string {
	s := pictures.ReplaceAllString(t.Text, "($1)")
	s = anchors.ReplaceAllString(s, "")
	s = beside.ReplaceAllStringFunc(s, func(l string) string {
		m := beside.FindStringSubmatch(l)
		if m[3] != "" {
			m[2] = m[3]
		}
		return m[1] + " (" + strings.Join([]string{"tared", "help", m[2]}, " ") + ")" // a command, in each language
	})
	var out strings.Builder
	for line := range strings.Lines(code.ReplaceAllString(s, "$1")) {
		out.WriteString(wrapped(strings.TrimRight(line, "\n")))
	}
	return out.String()
}

// terminal is how long a line of Plain is at most, where it is prose.
const terminal = 80

// wrapped breaks a line of prose. What is set in from the margin and tables stay as they are.
func wrapped(line string) string {
	if strings.HasPrefix(line, " ") || strings.HasPrefix(line, "|") {
		return line + "\n"
	}
	margin := strings.Repeat(" ", len(item.FindString(line)))
	var b strings.Builder
	at := 0
	for i, w := range strings.FieldsFunc(line, func(r rune) bool { return r == ' ' }) { // a space that does not break stays
		n := len([]rune(w))
		switch {
		case i > 0 && at+1+n > terminal:
			b.WriteString("\n" + margin)
			at = len(margin)
		case i > 0:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(w)
		at += n
	}
	return b.String() + "\n"
}

var item = regexp.MustCompile(`^(- |[0-9]+\. )`)

// Picture gives a picture of the help.
func Picture(name string) ([]byte, error) { return files.ReadFile("picture/" + name) }
