package book

import (
	"slices"
	"strings"
	"tared/session/text"
	"time"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/glaze"
)

// Batch is one batch as its facts tell it. Made gives it for showing.
type Batch struct {
	*batch.Batch
	shelf   glaze.Shelf    // of densities and analyses
	reader  *text.Language // of its sentences; nil: who reads English
	Started time.Time
	Ended   time.Time // zero while open
	hash    string    // of the line that closed it; empty while open, or when not given
	closed  uint64    // seq of that line
	signed  fact.Signed
	tub     *Batch // of the series that it is a cup of; nil: none, or not here
	facts   []entry
	changes []change
	texts   []string       // under which it can be found, in lower case
	breaks  []string       // instruments that went away
	tags    []string       // given to its tiles, in lower case
	checked []checkedScale // known weights on its scales
}

type entry struct {
	fact.Fact
	hash string
	void bool
	by   []uint64 // amendments of it
}

type change struct {
	fact.Amended
	seq     uint64
	at      time.Time
	by      string
	late    bool // the batch was closed already
	portion bool // it is of a portion that counted
}

// checkedScale is what is known of one scale of a batch.
type checkedScale struct {
	scale  string
	before fact.Fact // no body: never checked
	after  fact.Fact // no body: not checked since
}

// State reports whether the batch is open, finished, or was closed early.
func (n *Batch) State() State {
	switch {
	case n.Early:
		return Abandoned
	case n.Finished:
		return Finished
	}
	return Open
}

// find adds texts under which the batch can be found.
func (n *Batch) find(texts ...string) {
	for _, t := range texts {
		if t != "" {
			n.texts = append(n.texts, strings.ToLower(t))
		}
	}
}

// people gives who did something in it.
func (n *Batch) people() []string {
	all := []string{n.By}
	for _, f := range n.facts {
		all = append(all, f.Fact.By)
		switch d, _ := f.Body.(fact.Decided); d.Question {
		case "operator":
			all = append(all, d.Answer)
		case "confirm":
			all = append(all, d.With)
		}
	}
	return all
}

// WithoutPrices is the batch for somebody who need not know what its materials
// cost.
func (n *Batch) WithoutPrices() *Batch {
	c := *n
	c.Batch = n.Clone()
	c.Plan.Lots = slices.Clone(n.Plan.Lots)
	for i := range c.Plan.Lots {
		c.Plan.Lots[i].Price, c.Plan.Lots[i].Currency = "", ""
	}
	return &c
}
