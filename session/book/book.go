package book

import (
	"encoding/hex"
	"math/big"
	"slices"
	"strings"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/recipe"
)

// State of a batch.
type State string

// The states.
const (
	Open      State = "open"
	Finished  State = "finished"
	Abandoned State = "abandoned" // closed by a person before everything was in
)

// Book is all batches, in the order in which they were planned. Give it every
// fact with Add; it is not safe for use while Add runs.
type Book struct {
	batches []*Batch
	byMark  map[string]*Batch
	checks  checks
}

// Batch is one batch as its facts tell it. Made gives it for showing.
type Batch struct {
	Mark     string
	Title    string
	By       string
	Started  time.Time
	Ended    time.Time // zero while open
	State    State
	Plan     fact.Planned
	hash     string // of the line that closed it; empty while open, or when not given
	closed   uint64 // seq of that line
	base     protocol.Mass
	dry      protocol.Mass
	lines    []line
	onBase   []bool // of the lines planned: part of the 100
	cups     []line // the steps of mixtures
	tub      *Batch // of the series that it is a cup of; nil: none, or not here
	water    *line  // the first water; nil: it was no step
	facts    []told
	changes  []change
	hay      string // all texts in lower case, for searching
	portions map[uint64]portion
	breaks   []string // instruments that went away
	tags     []string // given to its tiles, in lower case
	checked  []around // known weights on its scales
	shut     *Batch   // as it was closed; nil: no portion was changed since
}

// line is one material while facts are added up.
type line struct {
	fact.Line
	key       string        // of the material's name
	first     protocol.Mass // target before the batch was enlarged
	as        string
	delivered protocol.Mass
	squares   *big.Int // of the U of the portions that count
	portions  int
	skipped   bool
	kept      bool // over, and kept so by a person
	places    int
}

type portion struct {
	name string // of the line
	m    protocol.Mass
	u    protocol.Mass
	void bool
}

type told struct {
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
	after   bool // the batch was closed already
	portion bool // it is of a portion that counted
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
	if n := b.byMark[recipe.Key(f.Batch)]; n != nil {
		n.add(f, text)
	}
}

// Batches gives all, in the order in which they were planned.
func (b *Book) Batches() []*Batch { return slices.Clone(b.batches) }

// Find gives the batch of a mark, without regard to case; nil when there is
// none. Should a mark have been given twice, it is the later one.
func (b *Book) Find(mark string) *Batch { return b.byMark[recipe.Key(mark)] }

func planned(f fact.Fact, p fact.Planned) *Batch {
	n := &Batch{Mark: f.Batch, Title: p.Title, By: f.By, Started: f.At, State: Open, Plan: p, base: p.Base, dry: p.Dry,
		portions: map[uint64]portion{}}
	for _, l := range p.Lines {
		n.lines = append(n.lines, line{Line: l, key: recipe.Key(l.Material), squares: new(big.Int), places: n.places(l.Scale)})
		n.find(l.Material)
	}
	n.onBase = batch.Bases(p.Lines)
	cup := func(l fact.Line) {
		n.cups = append(n.cups, line{Line: l, squares: new(big.Int), places: n.places(l.Scale)})
	}
	for _, m := range p.Mixes {
		for _, q := range m.Parts {
			if q.Step != (fact.Line{}) {
				cup(q.Step)
			}
		}
		cup(m.Take)
		n.find(m.From)
	}
	n.water = waterLine(p, n.places(p.Water.Scale))
	n.find(f.Batch, p.Title, f.By, p.Recipe)
	return n
}

// places gives the decimals of a scale of the plan.
func (n *Batch) places(scale string) int {
	for _, s := range n.Plan.Scales {
		if s.Name == scale {
			return s.Step.Places()
		}
	}
	return 0
}

// find adds texts under which the batch can be found.
func (n *Batch) find(texts ...string) {
	for _, t := range texts {
		if t != "" {
			n.hay += strings.ToLower(t) + "\n"
		}
	}
}

func (n *Batch) index(material string) int {
	return slices.IndexFunc(n.lines, func(l line) bool { return l.Material == material })
}

// line finds the line of a material or of a step of a mixture, and makes one for
// a material that nobody planned: what went in is shown, planned or not.
func (n *Batch) line(material, scale string) *line {
	if l := n.planned(material); l != nil {
		return l
	}
	n.lines = append(n.lines, line{key: recipe.Key(material), Line: fact.Line{Material: material, Share: "0", Scale: scale}, squares: new(big.Int), places: n.places(scale)})
	n.find(material)
	return &n.lines[len(n.lines)-1]
}

// planned finds the line of a material or of a step of a mixture; nil: none.
func (n *Batch) planned(material string) *line {
	if i := n.index(material); i >= 0 {
		return &n.lines[i]
	}
	if n.water != nil && n.water.Material == material {
		return n.water
	}
	return n.step(material)
}

// add takes one fact of this batch. Nothing but the journal's order decides what
// holds, so that the book says what the bench said.
func (n *Batch) add(f fact.Fact, hash string) {
	n.facts = append(n.facts, told{Fact: f, hash: hash})
	switch v := f.Body.(type) {
	case fact.Reminded:
		n.By = cmpOr(f.By, n.By)
		n.find(f.By)
	case fact.Portion:
		l := n.line(v.Material, v.Scale)
		l.delivered += v.Delivered
		l.squares.Add(l.squares, square(v.U))
		l.portions++
		l.places = max(l.places, v.Step.Places())
		if v.As != "" {
			l.as = v.As
			n.find(v.As)
		}
		n.portions[f.Seq] = portion{name: l.Material, m: v.Delivered, u: v.U}
		n.find(v.Words)
	case fact.Decided:
		n.decide(v)
	case fact.Enlarged:
		n.base, n.dry = v.Base, v.Dry
		for _, e := range v.Lines {
			if i := n.index(e.Material); i >= 0 {
				l := &n.lines[i]
				if l.first == 0 {
					l.first = l.Target
				}
				e.Place = l.Place
				l.Line, l.kept = e, false
			}
		}
	case fact.Moved:
		if l := n.planned(v.Material); l != nil {
			l.Scale, l.Weighable, l.U = v.To, v.Line.Weighable, v.Line.U
			l.Low, l.High = l.Target-(v.Line.Target-v.Line.Low), l.Target+(v.Line.High-v.Line.Target)
		}
	case fact.Amended:
		n.amend(f, v)
	case fact.Lost:
		n.breaks = append(n.breaks, v.Scale)
	case fact.Noted:
		n.find(v.Text)
	case fact.Finished:
		n.State, n.Ended, n.hash, n.closed = Finished, f.At, hash, f.Seq
		if v.Abandoned {
			n.State = Abandoned
		}
	default:
		n.findLater(f.Body)
	}
}

func (n *Batch) decide(v fact.Decided) {
	n.find(v.Words, v.With)
	if v.Question == "operator" {
		n.By = cmpOr(v.Answer, n.By)
		n.find(v.Answer)
		return
	}
	l := n.planned(v.Material)
	if l == nil {
		return
	}
	switch {
	case v.Answer == "skip":
		l.skipped = true
		n.leaveOut(v.Material)
	case v.Answer == "substitute":
		l.as = v.With
	case v.Answer == "keep" && v.Question == "overpour":
		l.kept = true
	}
}

// amend corrects what an earlier fact of this batch said. The fact stays among
// the others, marked.
func (n *Batch) amend(f fact.Fact, v fact.Amended) {
	n.find(v.Reason, v.New)
	c := change{Amended: v, seq: f.Seq, at: f.At, by: f.By, after: n.State != Open}
	for i := range n.facts {
		if n.facts[i].Seq == v.Of && v.Of != f.Seq {
			n.facts[i].by = append(n.facts[i].by, f.Seq)
			n.facts[i].void = n.facts[i].void || v.Void
		}
	}
	p, ok := n.portions[v.Of]
	c.portion = ok && !p.void && (v.Void || v.Field == "")
	n.changes = append(n.changes, c)
	if c.portion {
		n.shutAt()
		l := n.planned(p.name)
		l.kept = false
		if v.Void {
			l.delivered -= p.m
			l.squares.Sub(l.squares, square(p.u))
			l.portions--
			p.void = true
		} else {
			l.delivered += v.Is - p.m
			p.m = v.Is
			if v.U > 0 {
				l.squares.Sub(l.squares, square(p.u))
				l.squares.Add(l.squares, square(v.U))
				p.u = v.U
			}
			l.places = max(l.places, v.Is.Places(), v.Step.Places())
		}
		n.portions[v.Of] = p
		return
	}
	if v.Field == "title" {
		n.Title = v.New
	}
}

func cmpOr(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
