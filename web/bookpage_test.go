package web

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"tared/session/book"
)

func TestHowABatchWentIsTold(t *testing.T) {
	for _, c := range []struct {
		name              string
		row               book.Row
		tone, shape, went string
	}{
		{"in work", book.Row{State: book.Open, Done: 2, Of: 7, Worst: "in"}, "", "now", "open, 2 of 7 in"},
		{"all in", book.Row{State: book.Finished, Done: 7, Of: 7, Worst: "in"}, "in", "in", "all in band"},
		{"too much of one", book.Row{State: book.Finished, Done: 7, Of: 7, Off: 2, Worst: "over"}, "over", "over", "2 of 7 out of band"},
		{"too little of one", book.Row{State: book.Finished, Done: 5, Of: 7, Off: 2, Worst: "under"}, "under", "under", "2 of 7 out of band"},
		{"left out", book.Row{State: book.Finished, Done: 7, Of: 7, Off: 1, Worst: "skipped"}, "", "skip", "1 of 7 left out"},
		{"given up is not too little", book.Row{State: book.Abandoned, Done: 0, Of: 7, Off: 7, Worst: "under"}, "", "skip", "closed early, 0 of 7 in"},
	} {
		l := outcome(c.row)
		assert.Equal(t, []string{c.tone, c.shape, c.went}, []string{l.Tone, l.Shape, l.Words.String()}, c.name)
	}
}

// While the book is being read, a search says how far it looked, and is not taken for one
// that found nothing; a program is not given a part for the whole. The list needs no search.
func TestASearchSaysWhatItHasNotLookedAt(t *testing.T) {
	for unread, find := range map[int]string{0: "nowhere", 60: "nowhere", 100: ""} {
		s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{unread: unread} })
		page := do(s, request("GET", "/book?find="+find, "")).Body.String()
		reading := unread > 0 && find != ""
		assert.Equal(t, reading, strings.Contains(page, "Still reading the book: 40 %."))
		assert.Equal(t, reading, strings.Contains(page, `<a href="/book?find=nowhere&amp;sort=">Look again</a>`))
		assert.Equal(t, !reading && find != "", strings.Contains(page, "No batch matches."))
		asked := do(s, request("GET", "/api/book?find="+find, ""))
		assert.Equal(t, !reading, asked.Code == 200, asked.Body)
	}
}

// As long as old lines are being checked again, the book says so; then it says nothing.
func TestTheBookSaysWhatIsStillChecked(t *testing.T) {
	for lines, says := range map[int]string{0: "", 1: "1 line that was recorded before this start is being checked again.", 52000: "52000 lines that were recorded"} {
		s, _ := newServer(t, func(c *Config) { c.Book = fakeBook{checking: lines} })
		page := do(s, request("GET", "/book", "")).Body.String()
		assert.Contains(t, page, says)
		assert.Equal(t, lines > 0, strings.Contains(page, `id="checking"`))
	}
}
