// Package copies decides about the copies of a record that a bench makes by itself, night by
// night: when the next one is due, what it is called, and which of the older ones are kept.
// It looks at no clock and at no disk.
//
// Start with Due and Keep.Drop.
package copies

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tared/session/text"
)

// Keep says how many copies are kept: the last one of each of so many days, weeks (ISO 8601,
// from Monday on), months and years. A day without a copy does not count, so a bench that
// stands still for a summer loses nothing.
type Keep struct{ Days, Weeks, Months, Years int }

// Usual is kept where nobody said otherwise (common practice, no source).
var Usual = Keep{Days: 7, Weeks: 5, Months: 12}

// most of each that anybody can ask for.
const most = 999

// ReadKeep reads "7 days, 5 weeks, 12 months"; each may be left out, years may be added.
func ReadKeep(s string) (k Keep, err error) {
	if strings.TrimSpace(s) == "" {
		return Usual, nil
	}
	for part := range strings.SplitSeq(s, ",") {
		digits, unit, _ := strings.Cut(strings.TrimSpace(part), " ")
		n, nan := strconv.Atoi(digits)
		of := map[string]*int{"day": &k.Days, "week": &k.Weeks, "month": &k.Months, "year": &k.Years}[strings.TrimSuffix(strings.TrimSpace(unit), "s")]
		if nan != nil || of == nil || n < 0 || n > most {
			return k, text.Refuse("backup.keep", text.Name("keep", s), text.Name("part", strings.TrimSpace(part)))
		}
		*of = n
	}
	if k == (Keep{}) {
		return k, text.Refuse("backup.keep-none", text.Name("keep", s))
	}
	return k, nil
}

// String writes it as ReadKeep reads it.
func (k Keep) String() string {
	var all []string
	for _, one := range []struct {
		n    int
		unit string
	}{{k.Days, "day"}, {k.Weeks, "week"}, {k.Months, "month"}, {k.Years, "year"}} {
		if one.n == 1 {
			all = append(all, "1 "+one.unit)
		} else if one.n > 1 {
			all = append(all, fmt.Sprintf("%d %ss", one.n, one.unit))
		}
	}
	return strings.Join(all, ", ")
}

// Drop gives those of the times of copies that are kept no longer. The newest is always kept.
func (k Keep) Drop(made []time.Time) (drop []time.Time) {
	newest := slices.SortedFunc(slices.Values(made), func(a, b time.Time) int { return b.Compare(a) })
	keep := map[int]bool{0: true}
	for _, one := range []struct {
		n  int
		of func(time.Time) string
	}{
		{k.Days, func(t time.Time) string { return t.Format(time.DateOnly) }},
		{k.Weeks, func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprint(y, w) }},
		{k.Months, func(t time.Time) string { return t.Format("2006-01") }},
		{k.Years, func(t time.Time) string { return t.Format("2006") }},
	} {
		last, seen := "", 0
		for i, t := range newest {
			if is := one.of(t); is != last && seen < one.n {
				keep[i], last, seen = true, is, seen+1
			}
		}
	}
	for i, t := range newest {
		if !keep[i] {
			drop = append(drop, t)
		}
	}
	return drop
}

// Clock is a time of the day, as it stands on the wall.
type Clock struct{ Hour, Minute int }

// Night is when a copy is made where nobody said otherwise.
var Night = Clock{3, 30}

// ReadClock reads "03:30".
func ReadClock(s string) (Clock, error) {
	if strings.TrimSpace(s) == "" {
		return Night, nil
	}
	t, err := time.Parse("15:04", strings.TrimSpace(s))
	if err != nil {
		return Clock{}, text.Refuse("backup.at", text.Name("at", s))
	}
	return Clock{t.Hour(), t.Minute()}, nil
}

func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", c.Hour, c.Minute) }

// Due reports whether a copy is to be made now, where the last good one was begun at last,
// or never. A machine that was off in the night makes it when it is on again; a clock that
// goes back asks for none.
func (c Clock) Due(last, now time.Time) bool {
	y, m, d := now.Date()
	at := time.Date(y, m, d, c.Hour, c.Minute, 0, 0, now.Location())
	if at.After(now) {
		at = time.Date(y, m, d-1, c.Hour, c.Minute, 0, 0, now.Location())
	}
	return last.IsZero() || last.Before(at)
}

// Late reports whether nights went by without a good copy.
func Late(last, now time.Time) bool { return now.Sub(last) > 49*time.Hour }

// stamp is how the time of a copy stands in its name, to the second.
const stamp = "2006-01-02-150405"

const before, behind = "tared-", ".jsonl"

// idDigits of the fingerprint of a bench tell those apart that share a folder.
const idDigits = 8

// Name is the name of the copy that a bench begins at t.
func Name(bench string, t time.Time) string {
	return before + bench[:min(len(bench), idDigits)] + "-" + t.Format(stamp) + behind
}

// Read gives the time of a copy of a bench by its name, in a place of the world; ok is
// false for the name of anything else.
func Read(bench, name string, where *time.Location) (t time.Time, ok bool) {
	rest, ok := strings.CutPrefix(name, before+bench[:min(len(bench), idDigits)]+"-")
	rest, is := strings.CutSuffix(rest, behind)
	t, err := time.ParseInLocation(stamp, rest, where)
	return t, ok && is && err == nil && Name(bench, t) == name
}
