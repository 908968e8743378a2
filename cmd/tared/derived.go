package main

import (
	"bytes"
	"strings"

	"tared/session/book"
	"tared/session/derive"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/signer"
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

	bench   string         // public key of the bench that keeps the journal here
	closing journal.Record // the last line that closed a batch
	signed  int            // signatures that hold
	unsure  []saidOfLine   // those that do not
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
	if err := w.signature(r); err != nil {
		w.unsure = append(w.unsure, saidOfLine{r.Seq, r.Batch, err.Error()})
	}
	if r.Batch != "" {
		if f, err := book.Fact(r); err == nil { // else it is told when the book is read
			w.derive(r.Kind, f)
		}
	}
	return w.photos.line(r)
}

// signature checks what a bench signed, with the key that the journal names for it.
func (w *walked) signature(r journal.Record) error {
	switch r.Kind {
	case (fact.Finished{}).Kind():
		w.closing = r
		w.closing.Line = bytes.Clone(r.Line) // it is only good during the call
	case (fact.Began{}).Kind():
		f, err := book.Fact(r)
		if err != nil {
			return err
		}
		began := f.Body.(fact.Began)
		if id, err := signer.ID(began.Key); began.Bench != "" && (err != nil || id != began.Bench) {
			return text.Fault("signer.other-id")
		}
		w.bench = began.Key
	case (fact.Signed{}).Kind():
		f, err := book.Fact(r)
		if err != nil {
			return err
		}
		switch s := f.Body.(fact.Signed); {
		case s.Of != w.closing.Seq || s.Hash != w.closing.Hash.String() || r.Batch != w.closing.Batch:
			return text.Fault("signer.other-line")
		case s.Key != w.bench:
			return text.Fault("signer.other-key")
		case !signer.Verify(s.Key, w.closing.Line, s.Signature):
			return text.Fault("signer.no-match")
		}
		w.signed++
	}
	return nil
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
