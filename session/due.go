package session

import (
	"bytes"
	"slices"
	"strings"
	"time"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/sheet"
	"tared/session/text"
)

// dueFor is how long the bench goes on reminding of a batch that stands in its
// water: after that it is forgotten or was used without a word (ours).
const dueFor = 14 * 24 * time.Hour

// stood is what of a batch decides whether it waits to be measured.
type stood struct {
	closed    bool
	abandoned bool // and no water came in since
	used      bool // fired or judged
	entries   []wetting
}

// wetting is water that went in, or a gravity that was measured.
type wetting struct {
	seq             uint64
	at              time.Time
	water, measured bool
}

// buckets keep, of every batch that has water in it, since when it stands.
type buckets struct {
	since time.Time // what happened before it is not read; the zero time: all is
	of    map[string]*stood
}

// dueSince is the time before which no water can still wait to be measured.
func dueSince(now time.Time) time.Time {
	if now.IsZero() {
		return now
	}
	return now.Add(-dueFor)
}

// Reads reports whether a fact can matter here. That a batch was fired or judged
// always does, for more water may follow; that it was closed, only after water.
func (s *buckets) Reads(kind, batch string, at time.Time, line []byte) bool {
	switch kind {
	case "portion":
		return !at.Before(s.since) && bytes.Contains(line, []byte(sheet.WaterName))
	case "watered":
		return !at.Before(s.since)
	case "finished", "amended":
		return !at.Before(s.since) && s.of[batch] != nil
	case "fired", "judged":
		return true
	}
	return false
}

// Add takes a fact into account.
func (s *buckets) Add(f fact.Fact) {
	switch v := f.Body.(type) {
	case fact.Portion:
		if v.Material == sheet.WaterName {
			b := s.batch(f.Batch)
			b.entries = append(b.entries, wetting{f.Seq, f.At, true, false})
		}
	case fact.Watered:
		b := s.batch(f.Batch)
		b.closed, b.abandoned = true, b.abandoned && v.Added.Mass <= 0
		b.entries = append(b.entries, wetting{f.Seq, f.At, v.Added.Mass > 0, v.Gravity != ""})
	case fact.Finished:
		if b := s.of[f.Batch]; b != nil {
			b.closed, b.abandoned = true, v.Abandoned
		}
	case fact.Fired, fact.Judged:
		s.batch(f.Batch).used = true
	case fact.Amended:
		if b := s.of[f.Batch]; b != nil && v.Void {
			b.entries = slices.DeleteFunc(b.entries, func(w wetting) bool { return w.seq == v.Of })
		}
	}
}

func (s *buckets) batch(mark string) *stood {
	if s.of == nil {
		s.of = map[string]*stood{}
	}
	if s.of[mark] == nil {
		s.of[mark] = &stood{}
	}
	return s.of[mark]
}

// due tells which batches have stood overnight and were not measured since, the
// longest first.
func (s *buckets) due(now time.Time) []DueView {
	type one struct {
		mark string
		at   time.Time
	}
	var all []one
	for mark, b := range s.of {
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
		if b.closed && !b.abandoned && !b.used && !water.IsZero() && stands >= book.Wake && stands < dueFor && measured.Sub(water) < book.Wake {
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
		out = append(out, DueView{Batch: o.mark, Says: stands(o.mark, o.at.In(now.Location()), now)})
	}
	return out
}

// stands tells since when a batch has stood, by the day as people name it.
func stands(mark string, at, now time.Time) text.Message {
	day := func(t time.Time) time.Time { return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC) }
	switch days := int(day(now).Sub(day(at)).Hours() / 24); {
	case days <= 0:
		return text.New("bucket.stands-morning", text.Name("batch", mark))
	case days == 1:
		return text.New("bucket.stands-yesterday", text.Name("batch", mark))
	case days < 7:
		return text.New("bucket.stands-weekday", text.Name("batch", mark), text.Name("weekday", at.Weekday().String()))
	}
	return text.New("bucket.stands-since", text.Name("batch", mark), text.Date("day", at))
}
