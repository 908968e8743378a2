package journal

import (
	"errors"
	"time"

	"tared/session/text"
)

// Place is a place behind a whole line of a journal, and what was found of the lines
// before it. Who kept one can go on from there.
type Place struct {
	Lines     uint64    `json:"lines"`               // whole lines
	Bytes     int64     `json:"bytes"`               // in those lines
	Head      Hash      `json:"head"`                // hash of the last of them; zeros when there is none
	First     time.Time `json:"first,omitzero"`      // time of the first line
	Last      time.Time `json:"last,omitzero"`       // time of the last line
	Backwards uint64    `json:"backwards,omitempty"` // how often the clock went back
	Notes     []Note    `json:"notes,omitempty"`     // what a reader should know; the first hundred

	// Marks are where the last two of the lines 1, 1+atOnce, … begin.
	Marks [2]int64 `json:"marks,omitzero"`
	// Before is where the last line begins.
	Before int64 `json:"before,omitzero"`
}

// atOnce is how many lines are written at once at most.
const atOnce = 256

// Add takes the line that follows.
func (p *Place) Add(r Record) {
	n := p.Lines + 1
	if p.Lines%atOnce == 0 {
		p.Marks[0], p.Marks[1] = p.Marks[1], p.Bytes
	}
	if p.Lines == 0 {
		p.First = r.At
	} else if r.At.Before(p.Last) {
		p.Backwards++
		if len(p.Notes) < maxNotes {
			p.Notes = append(p.Notes, Note{Line: n, Words: text.New("journal.clock", text.Name("by", p.Last.Sub(r.At).String()),
				text.Name("from", p.Last.Format(time.RFC3339Nano)), text.Name("to", r.At.Format(time.RFC3339Nano))).String()})
		}
	}
	p.Lines, p.Head, p.Last = n, r.Hash, r.At
	p.Before, p.Bytes = p.Bytes, p.Bytes+int64(len(r.Line))
}

// ErrElsewhere is in the chain of the error for a journal that was to be read from a
// place that is not in it.
var ErrElsewhere = errors.New("the journal was not as it is known")
