package book

import (
	"strings"
	"time"
	"unicode/utf8"

	"tared/session/doubt"
	"tared/session/text"
)

// table is text in columns.
type table struct {
	left []bool // by column: the text stands at the left
	rows [][]string
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// head adds what stands over the columns.
func (t *table) head(l *text.Language, words ...text.Message) {
	row := make([]string, len(words))
	for i, m := range words {
		row[i] = l.Say(m)
	}
	t.add(row...)
}

// write draws the columns two blanks apart. Widths are counted in characters, not
// bytes.
func (t *table) write(w *strings.Builder) {
	var wide []int
	for _, r := range t.rows {
		for i, c := range r {
			if i == len(wide) {
				wide = append(wide, 0)
			}
			wide[i] = max(wide[i], utf8.RuneCountInString(c))
		}
	}
	for _, r := range t.rows {
		var b strings.Builder
		for i, c := range r {
			if i > 0 {
				b.WriteString("  ")
			}
			pad := strings.Repeat(" ", wide[i]-utf8.RuneCountInString(c))
			if i < len(t.left) && t.left[i] {
				b.WriteString(c + pad)
			} else {
				b.WriteString(pad + c)
			}
		}
		w.WriteString(strings.TrimRight(b.String(), " ") + "\n")
	}
}

// clean keeps a text from steering the terminal: a control character becomes a
// blank.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return ' '
		}
		return r
	}, s)
}

const stamp = "2006-01-02 15:04 -07:00"

func when(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(stamp)
}

// verdictWords tells a verdict for a table.
func verdictWords(v string, l *text.Language) string {
	switch v {
	case NothingIn:
		return l.Say(text.New("record.nothing-in"))
	case string(doubt.Cannot):
		return l.Say(text.New("page.verdict.cannot-tell"))
	case string(doubt.In):
		return l.Say(text.New("record.col-in"))
	case string(doubt.Under):
		return l.Say(text.New("page.verdict.under"))
	case string(doubt.Over):
		return l.Say(text.New("page.verdict.over"))
	}
	return v
}

// stateWords tells how far a batch is, for a table.
func stateWords(s State, l *text.Language) string {
	switch s {
	case Open:
		return l.Say(text.New("record.col-open"))
	case Finished:
		return l.Say(text.New("record.col-finished"))
	case Abandoned:
		return l.Say(text.New("record.col-abandoned"))
	}
	return string(s)
}
