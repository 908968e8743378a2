package book

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"tared/session/recipe"
)

// Query says which batches are wanted. All that is set must hold; case does not
// count, and a part of a word is enough.
type Query struct {
	Text     []string // each somewhere in mark, title, recipe, materials, people, notes, reasons
	Material string   // planned, or gone in
	Mark     string
	Title    string
	By       string
	Tag      string // of a tile, whole
	Date     string // day or month or year of the start, where it was: 2026-11-25, 2026-11, 2026
}

// ParseQuery reads what a person types: words to be found anywhere, and words
// behind a name: material: mark: title: by: tag: date:. What holds a blank is put into
// double quotes: material:"copper carbonate".
func ParseQuery(s string) (Query, error) {
	var q Query
	for _, w := range words(s) {
		name, value, named := strings.Cut(w, ":")
		value = strings.ToLower(strings.TrimSpace(value))
		to := map[string]*string{"material": &q.Material, "mark": &q.Mark, "title": &q.Title, "by": &q.By, "tag": &q.Tag, "date": &q.Date}[strings.ToLower(name)]
		switch {
		case !named || to == nil:
			q.Text = append(q.Text, strings.ToLower(w))
		case value == "":
			return Query{}, fmt.Errorf("search %q: nothing stands behind %s: write %s:word", s, name, name)
		case *to != "":
			return Query{}, fmt.Errorf("search %q: %s stands in it twice: give it once", s, name)
		default:
			*to = value
		}
	}
	return q, nil
}

// words cuts a text at blanks outside double quotes, and takes the quotes off.
func words(s string) []string {
	var out []string
	var b strings.Builder
	quoted, some := false, false
	end := func() {
		if some && b.Len() > 0 {
			out = append(out, b.String())
		}
		b.Reset()
		some = false
	}
	for _, r := range s {
		switch {
		case r == '"':
			quoted, some = !quoted, true
		case unicode.IsSpace(r) && !quoted:
			end()
		default:
			b.WriteRune(r)
			some = true
		}
	}
	end()
	return out
}

// Search gives the batches that a query finds, the newest first.
func (b *Book) Search(q Query) []*Batch {
	text := make([]string, len(q.Text))
	for i, t := range q.Text {
		text[i] = strings.ToLower(t)
	}
	q.Text = text
	var found []*Batch
	for i := len(b.batches) - 1; i >= 0; i-- {
		if b.batches[i].fits(q) {
			found = append(found, b.batches[i])
		}
	}
	return found
}

func (n *Batch) fits(q Query) bool {
	has := func(s, part string) bool {
		return part == "" || strings.Contains(strings.ToLower(s), strings.ToLower(part))
	}
	if !has(n.Mark, q.Mark) || !has(n.Title, q.Title) || !has(n.By, q.By) || !strings.HasPrefix(n.Started.Format("2006-01-02"), q.Date) {
		return false
	}
	if q.Tag != "" && !slices.Contains(n.tags, strings.ToLower(q.Tag)) {
		return false
	}
	for _, t := range q.Text {
		if !strings.Contains(n.hay, t) {
			return false
		}
	}
	if q.Material == "" {
		return true
	}
	want := recipe.Key(q.Material)
	for _, l := range n.folded() {
		if strings.Contains(recipe.Key(l.Material), want) || l.as != "" && strings.Contains(recipe.Key(l.as), want) {
			return true
		}
	}
	return false
}
