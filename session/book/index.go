package book

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"
	"sync"
	"time"

	"tared/session/fact"
	"tared/session/glaze"
	"tared/session/journal"
	"tared/session/recipe"
	"tared/session/sheet"
	"tared/session/text"
)

// Index is what is kept of a journal: where the lines of each batch stand, and what a
// list and a search look at. A batch is read when somebody opens it, and a row of the
// list is made once and kept until a line of that batch follows. Give it every line with
// Add. It is safe for use by several: nobody waits while another reads the journal.
type Index struct {
	Shelf  glaze.Shelf    // densities and analyses, for what is read
	Reader *text.Language // who reads the sentences of what is read; nil: who reads English
	file   io.ReaderAt    // the journal
	*shelves
}

// shelves are what all readers of an Index share.
type shelves struct {
	mu      sync.Mutex // of all that follows; never held while the journal is read
	place   journal.Place
	batches []shelf // in the order in which they were planned
	byMark  map[string]int32
	cups    map[string][]int32 // by the mark of their tub
	apart   []piece            // lines that are not of a batch alone
	checks  []checkAt
	names   names
	unmade  int // rows from here on are made; others may be, too

	mark string // of the line before
	at   int32  // its batch
}

// For is the same index for a reader of a language.
func (x *Index) For(reader *text.Language) *Index {
	return &Index{Shelf: x.Shelf, Reader: reader, file: x.file, shelves: x.shelves}
}

// shelf is one batch of an Index.
type shelf struct {
	mark   string
	of     string  // mark of the tub of its series
	last   int64   // time of its last line, in nanoseconds
	tub    int32   // place of that tub; less than 0: it is not here
	wet    bool    // water went in
	used   bool    // it was fired, or a tile of it judged
	pieces []piece // of the journal, in order
	digest []byte  // nil: it is to be made; see digest.go
}

// piece is lines of one batch that stand together. What is read there must end in the
// line that was there.
type piece struct {
	at   int64
	size uint32
	head [12]byte // beginning of the hash of the last line
}

// checkAt is a known weight on a scale.
type checkAt struct {
	scale string
	piece
}

// none is a batch that is not there.
const noShelf = -1

// NewIndex is that of a journal of which nothing was read yet.
func NewIndex(file io.ReaderAt) *Index {
	return &Index{file: file, shelves: &shelves{byMark: map[string]int32{}, cups: map[string][]int32{}, at: noShelf}}
}

// Place is how far the journal was read.
func (x *Index) Place() journal.Place {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.place
}

// Len is how many batches there are.
func (x *Index) Len() int {
	x.mu.Lock()
	defer x.mu.Unlock()
	return len(x.batches)
}

// Add takes the next line. It keeps nothing of the record's Line.
func (x *Index) Add(r journal.Record) {
	x.mu.Lock()
	defer x.mu.Unlock()
	p := piece{at: x.place.Bytes, size: uint32(len(r.Line))}
	copy(p.head[:], r.Hash[:])
	x.place.Add(r)
	if r.Kind == (fact.Planned{}).Kind() && r.Batch != "" {
		x.planned(r)
	}
	if r.Kind == (fact.Checked{}).Kind() {
		if b, err := fact.DecodeBody(r.Kind, r.Line); err == nil {
			x.checks = append(x.checks, checkAt{b.(fact.Checked).Scale, p})
		}
	}
	if r.Batch != x.mark {
		x.mark, x.at = r.Batch, x.find(r.Batch)
	}
	if x.at == noShelf || isApart[r.Kind] {
		x.apart = grown(x.apart, p)
	}
	if x.at == noShelf {
		return
	}
	s := &x.batches[x.at]
	s.pieces, s.last = grown(s.pieces, p), r.At.UnixNano()
	x.anew(x.at)
	s.used = s.used || r.Kind == (fact.Fired{}).Kind() || r.Kind == (fact.Judged{}).Kind()
	s.wet = s.wet || r.Kind == (fact.Watered{}).Kind() || r.Kind == (fact.Portion{}).Kind() && bytes.Contains(r.Line, []byte(sheet.WaterName))
	if len(x.cups) > 0 {
		for _, cup := range x.cups[recipe.Key(s.mark)] {
			x.anew(cup) // it is of what came out of that tub
		}
	}
}

// anew has the row of a batch made anew.
func (x *Index) anew(i int32) {
	x.batches[i].digest, x.unmade = nil, max(x.unmade, int(i)+1)
}

// isApart are the kinds that somebody reads beside the batches.
var isApart = func() map[string]bool {
	all := map[string]bool{}
	for _, k := range fact.Kinds {
		for _, r := range k.Readers {
			all[k.Name] = all[k.Name] || r != fact.Batch && r != fact.Stock && r != fact.Due && r != fact.RecordOnly
		}
	}
	return all
}()

// AddLines takes lines that were written behind those that are known.
func (x *Index) AddLines(lines [][]byte) error {
	return journal.Piece(bytes.Join(lines, nil), func(r journal.Record) error { x.Add(r); return nil })
}

// grown adds a line to pieces.
func grown(all []piece, p piece) []piece {
	if k := len(all) - 1; k >= 0 && all[k].at+int64(all[k].size) == p.at && all[k].size < 1<<30 {
		all[k].size, all[k].head = all[k].size+p.size, p.head
		return all
	}
	return append(all, p)
}

func (x *Index) planned(r journal.Record) {
	s := shelf{mark: strings.Clone(r.Batch), tub: noShelf}
	// Most are no cups, and their plans are long: they are not read for that.
	if bytes.Contains(r.Line, []byte(`"of"`)) || bytes.Contains(r.Line, []byte(`\u`)) {
		if b, err := fact.DecodeBody(r.Kind, r.Line); err == nil {
			s.of = b.(fact.Planned).Series.Of
		}
	}
	if s.of != "" {
		s.tub = x.find(s.of)
		x.cups[recipe.Key(s.of)] = append(x.cups[recipe.Key(s.of)], int32(len(x.batches)))
	}
	x.batches = append(x.batches, s)
	x.byMark[recipe.Key(s.mark)] = int32(len(x.batches) - 1)
	x.mark = ""
}

func (x *Index) find(mark string) int32 {
	if i, ok := x.byMark[recipe.Key(mark)]; ok && mark != "" {
		return i
	}
	return noShelf
}

// Number tells as which a batch was planned, from 1; 0: there is no batch of that mark.
// Should a mark have been given twice, it is the later one.
func (x *Index) Number(mark string) int {
	x.mu.Lock()
	defer x.mu.Unlock()
	return int(x.find(mark)) + 1
}

// Mark is that of the batch that was planned as number n; "" where n is 0.
func (x *Index) Mark(n int) string {
	x.mu.Lock()
	defer x.mu.Unlock()
	if n == 0 {
		return ""
	}
	return x.batches[n-1].mark
}

// Find reads the batch of a mark, without regard to case. Should a mark have been given
// twice, it is the later one. The error has ErrNoBatch in its chain where there is none.
func (x *Index) Find(mark string) (*Batch, error) {
	all, err := x.FindAll(mark)
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// ErrNoBatch means that the journal has no batch of that mark.
var ErrNoBatch = errors.New("no batch of that mark in the record")

// FindAll reads the batches of several marks, in that order.
func (x *Index) FindAll(marks ...string) ([]*Batch, error) {
	var which []int32
	for _, m := range marks {
		i := int32(x.Number(m)) - 1
		if i == noShelf {
			return nil, text.Kind(ErrNoBatch, text.Refuse("entry.no-batch", text.Name("batch", m)))
		}
		which = append(which, i)
	}
	all, _, err := x.gather(which...).read(decoded)
	return all, err
}

// All reads all batches one after the other, in the order in which they were planned.
func (x *Index) All() iter.Seq2[*Batch, error] {
	return func(yield func(*Batch, error) bool) {
		for i := range x.Len() {
			all, _, err := x.gather(int32(i)).read(decoded)
			if err != nil {
				yield(nil, err)
				return
			}
			if !yield(all[0], nil) {
				return
			}
		}
	}
}

// Series lays out the series to which a batch belongs, its tub or one of its cups;
// ok is false when it belongs to none.
func (x *Index) Series(mark string) (s Series, ok bool, err error) {
	which := x.series(mark)
	if which == nil {
		return s, false, nil
	}
	_, b, err := x.gather(which...).read(decoded)
	if err == nil {
		s, ok = b.Series(mark)
	}
	return s, ok, err
}

// series gives what a series consists of; nil: there is no such batch.
func (x *Index) series(mark string) []int32 {
	x.mu.Lock()
	defer x.mu.Unlock()
	i := x.find(mark)
	if i == noShelf {
		return nil
	}
	tub := cmp.Or(x.batches[i].of, x.batches[i].mark)
	return append(slices.Clone(x.cups[recipe.Key(tub)]), i, x.find(tub))
}

// Lines gives the lines of the batch of a mark, in order.
func (x *Index) Lines(mark string, each func(journal.Record) error) error {
	x.mu.Lock()
	var pieces []piece
	if i := x.find(mark); i != noShelf {
		pieces = slices.Clone(x.batches[i].pieces)
	}
	x.mu.Unlock()
	return linesIn(x.file, pieces, each)
}

// Facts gives what happened in the batch of a mark so far.
func (x *Index) Facts(mark string) (all []fact.Fact, err error) {
	err = x.Lines(mark, func(r journal.Record) error {
		f, err := Fact(r)
		all = append(all, f)
		return err
	})
	return all, err
}

// Apart gives the lines that are not of a batch alone, in order: those of none, and those
// of kinds that somebody reads beside the batches.
func (x *Index) Apart(each func(journal.Record) error) error {
	x.mu.Lock()
	apart := slices.Clone(x.apart)
	x.mu.Unlock()
	return linesIn(x.file, apart, each)
}

// Wet gives all lines of the batches with water in them of which a line is not older than a
// time.
func (x *Index) Wet(since time.Time, each func(journal.Record) error) error {
	x.mu.Lock()
	var wet []piece
	for _, s := range x.batches {
		if s.wet && s.last >= since.UnixNano() {
			wet = append(wet, s.pieces...)
		}
	}
	x.mu.Unlock()
	return linesIn(x.file, wet, each)
}

// Marks gives the marks of all batches, in the order in which they were planned, and
// whether tiles of them were fired or judged.
func (x *Index) Marks() iter.Seq2[string, bool] {
	x.mu.Lock()
	all := slices.Clone(x.batches)
	x.mu.Unlock()
	return func(yield func(string, bool) bool) {
		for _, s := range all {
			if !yield(s.mark, s.used) {
				return
			}
		}
	}
}

// ErrChanged means that a line is not the one that was there when the journal was read.
var ErrChanged = errors.New("the journal was changed since it was read")

// linesIn reads pieces of the journal.
func linesIn(file io.ReaderAt, pieces []piece, each func(journal.Record) error) error {
	for _, p := range pieces {
		b := make([]byte, p.size)
		if _, err := file.ReadAt(b, p.at); err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		var held []journal.Record
		err := journal.Piece(b, func(r journal.Record) error { held = append(held, r); return nil })
		if n := len(held); err != nil || n == 0 || string(held[n-1].Hash[:len(p.head)]) != string(p.head[:]) {
			return text.Kind(ErrChanged, text.Fault("record.changed"))
		}
		for _, r := range held {
			if err := each(r); err != nil {
				return err
			}
		}
	}
	return nil
}

// Fact understands a line of the journal, of which the head was read already. It keeps
// nothing of the record's Line. Where the line cannot be understood, the fact has no body.
func Fact(r journal.Record) (fact.Fact, error) {
	f := fact.Fact{Seq: r.Seq, At: r.At, Batch: r.Batch, By: r.By}
	var err error
	if f.Body, err = fact.DecodeBody(r.Kind, r.Line); err != nil {
		return f, fmt.Errorf("line %d: %w", r.Seq, err)
	}
	return f, nil
}

// decoded understands all of a line; forList what of it a list and a search look at.
func decoded(r journal.Record) (fact.Fact, error) { return Fact(r) }

func forList(r journal.Record) (fact.Fact, error) {
	switch r.Kind {
	case "reminded", "tared", "lifted", "returned", "overpoured", "found", "noticed", "paused":
		k, _ := fact.Lookup(r.Kind)
		return fact.Fact{Seq: r.Seq, At: r.At, Batch: r.Batch, By: r.By, Body: k.Zero}, nil
	}
	return Fact(r)
}

// gathered is what is to be read to make batches of their lines: what stood in the index
// when somebody asked, so that it may grow while that is read.
type gathered struct {
	x      *Index
	which  []int32   // that are wanted, in that order
	all    []int32   // and the tubs that they were filled from, in the order of planning
	pieces [][]piece // of all
	checks []checkAt
}

// gather gives what is to be read of batches.
func (x *Index) gather(which ...int32) gathered {
	x.mu.Lock()
	defer x.mu.Unlock()
	g := gathered{x: x, which: which, checks: x.checks}
	for _, i := range which { // none of them stands for a tub that is not here
		for ; i != noShelf && !slices.Contains(g.all, i); i = x.batches[i].tub {
			g.all = append(g.all, i)
		}
	}
	slices.Sort(g.all)
	for _, i := range g.all {
		g.pieces = append(g.pieces, slices.Clone(x.batches[i].pieces))
	}
	return g
}

// stands reports whether no line followed of what was gathered; x.mu is held.
func (g gathered) stands() bool {
	for k, i := range g.all {
		if !slices.Equal(g.pieces[k], g.x.batches[i].pieces) {
			return false
		}
	}
	return true
}

// read makes batches of their lines, in the order that is given. What else these rest on
// is read with them, and is in the book: the tubs that they were filled from, and the
// known weights on their scales, before and after.
func (g gathered) read(as func(journal.Record) (fact.Fact, error)) (out []*Batch, b *Book, err error) {
	type line struct {
		fact.Fact
		hash journal.Hash
	}
	var lines []line
	take := func(r journal.Record) error {
		f, err := as(r)
		lines = append(lines, line{f, r.Hash})
		return err
	}
	check := func(r journal.Record) error {
		r.Batch = "" // should it name another batch, that one is not read here
		return take(r)
	}
	for _, pieces := range g.pieces {
		first := len(lines)
		if err := linesIn(g.x.file, pieces, take); err != nil {
			return nil, nil, err
		}
		if p, ok := lines[first].Body.(fact.Planned); ok {
			if err := linesIn(g.x.file, around(g.checks, p.Scales, pieces[0].at), check); err != nil {
				return nil, nil, err
			}
		}
	}
	slices.SortStableFunc(lines, func(a, b line) int { return cmp.Or(cmp.Compare(a.Seq, b.Seq), -cmp.Compare(a.Batch, b.Batch)) })
	b = &Book{Shelf: g.x.Shelf, Reader: g.x.Reader}
	for i, l := range lines {
		if i == 0 || l.Seq != lines[i-1].Seq {
			b.Add(l.Fact, l.hash)
		}
	}
	for _, i := range g.which {
		if k, ok := slices.BinarySearch(g.all, i); ok {
			out = append(out, b.batches[k])
		}
	}
	return out, b, nil
}

// around gives the last check of each scale before a place in the journal, and the first
// behind it.
func around(checks []checkAt, scales []fact.Scale, at int64) (all []piece) {
	k, _ := slices.BinarySearchFunc(checks, at, func(c checkAt, at int64) int { return cmp.Compare(c.at, at) })
	for _, s := range scales {
		for i := k - 1; i >= 0; i-- {
			if checks[i].scale == s.Name {
				all = append(all, checks[i].piece)
				break
			}
		}
		for _, c := range checks[k:] {
			if c.scale == s.Name {
				all = append(all, c.piece)
				break
			}
		}
	}
	return all
}
