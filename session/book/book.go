package book

import (
	"encoding/hex"
	"slices"
	"strings"
	"tared/session/text"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/glaze"
	"tared/session/recipe"
)

// Book is batches that are read together, in the order in which they were planned: one,
// or those of a series. Give it every fact of them with Add; it is not safe for use
// while Add runs.
type Book struct {
	// Shelf is where densities and analyses of materials are looked up, from before the
	// first Add.
	Shelf glaze.Shelf
	// Reader is who reads the sentences; nil: who reads English.
	Reader  *text.Language
	batches []*Batch
	byMark  map[string]*Batch
	checks  checks
}

// Add takes the next fact. Hash is the SHA-256 of its line in the journal, the
// zero hash where it is not known. A fact without a body, or one that belongs neither
// to a batch that was planned nor to a scale, changes nothing.
func (b *Book) Add(f fact.Fact, hash [32]byte) {
	if f.Body == nil {
		return
	}
	text := ""
	if hash != [32]byte{} {
		text = hex.EncodeToString(hash[:])
	}
	if p, ok := f.Body.(fact.Planned); ok && f.Batch != "" {
		n := planned(f, p)
		n.shelf, n.reader = b.Shelf, b.Reader
		if b.byMark == nil {
			b.byMark = map[string]*Batch{}
		}
		if p.Series.Of != "" {
			n.tub = b.byMark[recipe.Key(p.Series.Of)]
		}
		b.batches = append(b.batches, n)
		b.byMark[recipe.Key(f.Batch)] = n
		b.checks.planned(n)
	}
	if c, ok := f.Body.(fact.Checked); ok {
		b.checks.took(f, c.Scale)
	}
	n := b.byMark[recipe.Key(f.Batch)]
	if n == nil {
		return
	}
	n.add(f, text)
	if n.AtClosing != nil && n.Plan.Series.Cups > 0 {
		for _, cup := range b.batches {
			if cup.tub == n {
				cup.Fill(n.Batch)
			}
		}
	}
}

// Batches gives all, in the order in which they were planned.
func (b *Book) Batches() []*Batch { return slices.Clone(b.batches) }

// Find gives the batch of a mark, without regard to case; nil when there is
// none. Should a mark have been given twice, it is the later one.
func (b *Book) Find(mark string) *Batch { return b.byMark[recipe.Key(mark)] }

func planned(f fact.Fact, p fact.Planned) *Batch {
	n := &Batch{Batch: batch.New(f, p), Started: f.At}
	for _, l := range p.Lines {
		n.find(l.Material)
	}
	for _, m := range p.Mixes {
		n.find(m.From)
	}
	n.find(p.Title, f.By, p.Recipe)
	return n
}

// add takes one fact of this batch: what the batch is, the fold of all facts says;
// here is kept what the book tells beside it.
func (n *Batch) add(f fact.Fact, hash string) {
	n.facts = append(n.facts, entry{Fact: f, hash: hash})
	switch v := f.Body.(type) {
	case fact.Planned:
		return // it is there already
	case fact.Reminded:
		n.find(f.By)
	case fact.Portion:
		if n.StepOf(v.Material) < 0 {
			n.find(v.Material) // nobody planned it
		}
		n.find(v.As, v.Words)
	case fact.Decided:
		n.find(v.Words, v.With)
		if v.Question == "operator" {
			n.find(v.Answer)
		}
	case fact.Amended:
		n.amended(f, v)
	case fact.Lost:
		n.breaks = append(n.breaks, v.Scale)
	case fact.Noted:
		n.find(v.Text)
	case fact.Finished:
		n.Ended, n.hash, n.closed = f.At, hash, f.Seq
	case fact.Signed:
		if v.Of == n.closed {
			n.signed = v
		}
	default:
		n.findLater(f.Body)
	}
	n.Apply(f)
}

// amended keeps what an amendment says of an earlier fact, which stays among the
// others, marked.
func (n *Batch) amended(f fact.Fact, v fact.Amended) {
	n.find(v.Reason, v.New)
	for i := range n.facts {
		if n.facts[i].Seq == v.Of && v.Of != f.Seq {
			n.facts[i].by = append(n.facts[i].by, f.Seq)
			n.facts[i].void = n.facts[i].void || v.Void
		}
	}
	n.changes = append(n.changes, change{Amended: v, seq: f.Seq, at: f.At, by: f.By, late: n.Finished, portion: n.Amends(v)})
}

// findLater adds the words under which such a fact can be found.
func (n *Batch) findLater(b fact.Body) {
	switch v := b.(type) {
	case fact.Watered:
		n.find(v.Words)
	case fact.Fired:
		n.find(v.Kiln, v.Cone, v.Atmosphere, v.Words)
		n.find(v.Tiles...)
	case fact.Judged:
		n.find(v.Tile, v.Clay, v.Words, v.Verdict, v.Next)
		n.find(v.Tags...)
		for _, t := range v.Tags {
			if !slices.Contains(n.tags, strings.ToLower(t)) {
				n.tags = append(n.tags, strings.ToLower(t))
			}
		}
	}
}
