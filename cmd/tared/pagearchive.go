package main

import (
	"io"
	"time"

	"tared/protocol"
	"tared/session/journal"
	"tared/session/material"
	"tared/session/text"
	"tared/web"
)

// pageArchive gives the workshop page the record as a whole.
type pageArchive struct {
	dir   string
	table *material.Table
}

func (p pageArchive) Verify() (words []text.Message, ok bool, err error) {
	v, err := judge(p.dir, "")
	if err != nil {
		return nil, false, err
	}
	say := func(m text.Message) { words = append(words, m) }
	switch {
	case v.Damage != nil:
		say(text.New("page.shop.damaged", text.Count("line", int(v.Damage.Line)), text.Name("why", v.Damage.Why)))
	case v.Missing != nil:
		say(text.New("page.shop.other-journal", text.Count("lines", int(v.Missing.Lines)), text.Date("day", v.Missing.At)))
	default:
		say(text.New("page.shop.intact", text.Count("count", int(v.Lines))))
	}
	if len(v.Photos) > 0 {
		say(text.New("page.shop.photos-lost", text.Count("count", len(v.Photos))))
	} else if v.Pictures > 0 {
		say(text.New("page.shop.photos", text.Count("count", v.Pictures)))
	}
	for _, d := range v.Differ {
		say(text.New("page.shop.differs", text.Count("line", int(d.Line)), text.Name("why", d.Says)))
	}
	return words, v.OK, nil
}

func (p pageArchive) Export(w io.Writer, as string) error {
	return export(w, p.dir, "", as, p.table, false, false, time.Now(), func(journal.Record) error { return nil })
}

func (p pageArchive) Formats() (all []web.Format) {
	for _, f := range protocol.All() {
		all = append(all, web.Format{Name: f.Name, Summary: f.Summary, Example: f.Example})
	}
	return all
}
