package main

import (
	"os"
	"path/filepath"

	"tared/session/book"
	"tared/session/journal"
	"tared/web"
)

// pageLines gives out the journal of a running bench as bytes.
type pageLines struct{ record *bookReader }

// Place tells up to where its lines are on the disk.
func (p pageLines) Place() (place journal.Place, more <-chan struct{}) {
	p.record.fed.Lock()
	if p.record.news == nil {
		p.record.news = make(chan struct{})
	}
	more = p.record.news // before the place: what comes between the two is not missed
	p.record.fed.Unlock()
	_ = p.record.with(func(x *book.Index) error { place = x.Place(); return nil }) // of none, no line is given
	return place, more
}

// Open gives its file.
func (p pageLines) Open() (web.LinesFile, error) {
	return os.Open(filepath.Join(p.record.dir, journal.Name))
}
