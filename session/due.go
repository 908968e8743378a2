package session

import (
	"fmt"
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

// Reads reports whether facts of a kind matter here: those of a batch, where it has
// a step for water, or got some.
func (s *buckets) Reads(kind, batch string) bool {
	switch kind {
	case "planned", "watered":
		return true
	case "portion", "finished", "fired", "judged", "amended":
		return (*s)[batch] != nil
	}
	return false
}

// Add takes a fact into account.
func (s *buckets) Add(f fact.Fact) {
	if p, ok := f.Body.(fact.Planned); ok && p.Water.Target <= 0 {
		return
	}
	if *s == nil {
		*s = buckets{}
	}
	b := (*s)[f.Batch]
	if b == nil {
		b = &stood{}
		(*s)[f.Batch] = b
	}
	switch v := f.Body.(type) {
	case fact.Portion:
		if v.Material == sheet.WaterName {
			b.entries = append(b.entries, wetting{f.Seq, f.At, true, false})
		}
	case fact.Watered:
		b.closed = true
		b.entries = append(b.entries, wetting{f.Seq, f.At, v.Added.Mass > 0, v.Gravity != ""})
	case fact.Finished:
		b.closed, b.gone = true, v.Abandoned
	case fact.Fired, fact.Judged:
		b.gone = true
	case fact.Amended:
		if v.Void {
			b.entries = slices.DeleteFunc(b.entries, func(w wetting) bool { return w.seq == v.Of })
		}
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
		b.dueNow, b.dueAt = b.workshop.standing.due(now), now
	}
	return b.dueNow
}
