package main

import (
	"strings"

	"tared/session/book"
	"tared/session/derive"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/text"
)

// walked is what verify gathers from each line of a journal, in one pass.
type walked struct {
	photos photosNamed
	facts  derive.Journal
	differ []saidOfLine
	cannot int    // portions that cannot be derived anew
	hash   string // that is looked for; empty: none
	hashed []saidOfLine
}

// saidOfLine is a line, and what is to be said of it.
type saidOfLine struct {
	Line  uint64 `json:"line"`
	Batch string `json:"batch,omitempty"`
	Says  string `json:"says"`
}

func (w *walked) line(r journal.Record) error {
	if w.hash != "" && strings.HasPrefix(r.Hash.String(), w.hash) {
		w.hashed = append(w.hashed, saidOfLine{r.Seq, r.Batch, r.Kind})
	}
	if r.Batch != "" {
		if f, err := book.Fact(r); err == nil { // else it is told when the book is read
			w.derive(r.Kind, f)
		}
	}
	return w.photos.line(r)
}

func (w *walked) derive(kind string, f fact.Fact) {
	for _, d := range w.facts.Add(f) {
		if d.Cannot && kind == "portion" {
			w.cannot++
		}
		for _, m := range d.Wrong {
			w.differ = append(w.differ, saidOfLine{d.Line, d.Batch, m.String()})
		}
	}
}

// hashWanted reads what stands on a label, or a whole hash.
func hashWanted(s string) (string, error) {
	s = strings.ToLower(strings.Map(func(r rune) rune {
		if strings.ContainsRune(" .…-", r) {
			return -1
		}
		return r
	}, s))
	if len(s) < leastHash || len(s) > 2*len(journal.Hash{}) || strings.Trim(s, "0123456789abcdef") != "" {
		return "", text.Fault("derive.hash", text.Name("hash", s), text.Count("least", leastHash))
	}
	return s, nil
}

// leastHash is how many digits of a hash must be given. A label shows twelve.
const leastHash = 8
