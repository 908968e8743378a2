package session

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/sheet"
	"tared/session/text"
)

// dueFor is how long the bench goes on reminding of a batch that stands in its
// water: after that it is forgotten or was used without a word (ours).
const dueFor = 14 * 24 * time.Hour

// stood is what of a batch decides whether it waits to be measured.
type stood struct {
	closed, gone bool // gone: abandoned, fired or judged
	entries      []wetting
}

// wetting is water that went in, or a gravity that was measured.
type wetting struct {
	seq             uint64
	at              time.Time
	water, measured bool
}

// buckets keep, of every batch that has water in it, since when it stands.
type buckets map[string]*stood

func (s buckets) of(mark string) *stood {
	b := s[mark]
	if b == nil {
		b = &stood{}
		s[mark] = b
	}
	return b
}

// add takes a fact into account.
func (s buckets) add(f fact.Fact) {
	switch v := f.Body.(type) {
	case fact.Portion:
		if v.Material == sheet.WaterName {
			b := s.of(f.Batch)
			b.entries = append(b.entries, wetting{f.Seq, f.At, true, false})
		}
	case fact.Watered:
		b := s.of(f.Batch)
		b.closed = true
		b.entries = append(b.entries, wetting{f.Seq, f.At, v.Added.Mass > 0, v.Gravity != ""})
	case fact.Finished:
		if b := s[f.Batch]; b != nil {
			b.closed, b.gone = true, v.Abandoned
		}
	case fact.Fired, fact.Judged:
		if b := s[f.Batch]; b != nil {
			b.gone = true
		}
	case fact.Amended:
		if b := s[f.Batch]; b != nil && v.Void {
			b.entries = slices.DeleteFunc(b.entries, func(w wetting) bool { return w.seq == v.Of })
		}
	}
}

// line does the same with a line of the journal, and reads only those that can
// matter. One that cannot be understood is told when the book is read.
func (s buckets) line(r journal.Record) {
	switch r.Kind {
	case "portion":
		if !bytes.Contains(r.Line, []byte(`"material":"`+sheet.WaterName+`"`)) {
			return
		}
	case "watered":
	case "finished", "fired", "judged", "amended":
		if s[r.Batch] == nil {
			return
		}
	default:
		return
	}
	if body, err := fact.DecodeBody(r.Kind, r.Line); err == nil {
		s.add(fact.Fact{Seq: r.Seq, At: r.At, Batch: strings.Clone(r.Batch), By: r.By, Body: body})
	}
}

// due tells which batches have stood overnight and were not measured since, the
// longest first.
func (s buckets) due(now time.Time) []DueView {
	type one struct {
		mark string
		at   time.Time
	}
	var all []one
	for mark, b := range s {
		var water, measured time.Time
		for _, w := range b.entries {
			if w.water {
				water = w.at
			}
			if w.measured {
				measured = w.at
			}
		}
		stands := now.Sub(water)
		if b.closed && !b.gone && !water.IsZero() && stands >= book.Wake && stands < dueFor && measured.Sub(water) < book.Wake {
			all = append(all, one{mark, water})
		}
	}
	slices.SortFunc(all, func(a, b one) int {
		if c := a.at.Compare(b.at); c != 0 {
			return c
		}
		return strings.Compare(a.mark, b.mark)
	})
	var out []DueView
	for _, o := range all {
		out = append(out, DueView{Batch: o.mark, Says: text.Written(fmt.Sprintf("Batch %s has stood in its water since %s: stir it, sieve it, and measure its gravity.", o.mark, sinceWords(o.at, now)))})
	}
	return out
}

// sinceWords names the day for people.
func sinceWords(at, now time.Time) string {
	at = at.In(now.Location())
	day := func(t time.Time) time.Time { return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC) }
	switch days := int(day(now).Sub(day(at)).Hours() / 24); {
	case days <= 0:
		return "this morning"
	case days == 1:
		return "yesterday"
	case days < 7:
		return at.Weekday().String()
	}
	return at.Format("2 January")
}

// dues gives what due gives; it looks anew when a fact came, and every minute.
func (b *Bench) dues() []DueView {
	if now := b.s.Now; b.dueAt.IsZero() || now.Sub(b.dueAt).Abs() >= time.Minute {
		b.dueNow, b.dueAt = b.stands.due(now), now
	}
	return b.dueNow
}
