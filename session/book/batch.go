package book

import (
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/recipe"
)

// Batch is one batch as its facts tell it. Made gives it for showing.
type Batch struct {
	*batch.Batch
	Started    time.Time
	Ended      time.Time // zero while open
	hash       string    // of the line that closed it; empty while open, or when not given
	closed     uint64    // seq of that line
	tub        *Batch    // of the series that it is a cup of; nil: none, or not here
	facts      []entry
	changes    []change
	searchText string         // all texts in lower case, for searching
	index      *index         // what a list or a search looks at; nil while the batch is open
	breaks     []string       // instruments that went away
	tags       []string       // given to its tiles, in lower case
	checked    []checkedScale // known weights on its scales
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
			n.searchText += strings.ToLower(t) + "\n"
		}
	}
}

// index is what a list or a search looks at in a batch.
type index struct {
	materials []indexed
	verdicts  []string      // of the materials
	base      protocol.Mass // delivered, dry; 0 while the batch is open, for it has no shares yet
}

type indexed struct {
	key, as        string // name, and that of what went in instead, as keys
	delivered, dry protocol.Mass
	weighed        bool
}

// reindex keeps the index of a batch that is closed: there may be ten thousand of them.
func (n *Batch) reindex() {
	if n.index = nil; n.Finished {
		n.index = n.indexed()
	}
}

func (n *Batch) indexed() *index {
	if n.index != nil {
		return n.index
	}
	x := &index{}
	onBase := batch.Bases(n.Lines)
	for i, all := range n.Materials() {
		in := all.In
		m := indexed{key: recipe.Key(all.Line.Material), delivered: in.Delivered, dry: in.Dry(), weighed: all.Portions > 0}
		if in.As != "" {
			m.as = recipe.Key(in.As)
		}
		if onBase[i] && n.Finished {
			x.base += m.dry
		}
		x.materials = append(x.materials, m)
		x.verdicts = append(x.verdicts, n.Verdict(all.Line, in, all.Portions))
	}
	return x
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
