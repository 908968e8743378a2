package copies

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func day(s string) time.Time {
	t, err := time.ParseInLocation("2006-01-02 15:04", s, time.UTC)
	if err != nil {
		panic(err)
	}
	return t
}

// nights are copies at 03:30 of so many nights, the last of them on the 30th of November
// 2026, a Monday.
func nights(n int) (all []time.Time) {
	for i := range n {
		all = append(all, day("2026-11-30 03:30").AddDate(0, 0, -i))
	}
	return all
}

func TestWhichCopiesAreKept(t *testing.T) {
	for _, c := range []struct {
		what string
		keep Keep
		made []time.Time
		kept string // days, the newest first
	}{
		{"none", Usual, nil, ""},
		{"one is always kept", Keep{Years: 1}, nights(1), "2026-11-30"},
		{"days", Keep{Days: 3}, nights(9), "2026-11-30 2026-11-29 2026-11-28"},
		{"weeks begin on Monday", Keep{Weeks: 3}, nights(20), "2026-11-30 2026-11-29 2026-11-22"},
		{"months", Keep{Months: 3}, nights(90), "2026-11-30 2026-10-31 2026-09-30"},
		{"days and weeks overlap", Keep{Days: 2, Weeks: 2}, nights(20), "2026-11-30 2026-11-29"},
		{"the week of a new year is one week", Keep{Weeks: 2}, []time.Time{day("2027-01-03 03:30"), day("2026-12-28 03:30"), day("2026-12-27 03:30")}, "2027-01-03 2026-12-27"},
		{"of one day the last", Keep{Days: 1}, []time.Time{day("2026-11-30 03:30"), day("2026-11-30 17:00")}, "2026-11-30"},
		{"a gap counts for nothing", Keep{Days: 2}, []time.Time{day("2026-11-30 03:30"), day("2026-05-01 03:30"), day("2026-04-30 03:30")}, "2026-11-30 2026-05-01"},
		{"years", Keep{Years: 2}, nights(800), "2026-11-30 2025-12-31"},
	} {
		drop := c.keep.Drop(c.made)
		var kept []string
		for _, m := range slices.SortedFunc(slices.Values(c.made), func(a, b time.Time) int { return b.Compare(a) }) {
			if !slices.ContainsFunc(drop, m.Equal) {
				kept = append(kept, m.Format(time.DateOnly))
			}
		}
		if got := strings.Join(kept, " "); got != c.kept {
			t.Errorf("%s: kept %s, want %s", c.what, got, c.kept)
		}
	}
}

// However nights come, pruning after each leaves what pruning once at the end would leave of
// days, weeks and months that had one: nothing is thrown away that is wanted later.
func TestPruningEachNightLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		keep := Keep{rapid.IntRange(0, 9).Draw(t, "days"), rapid.IntRange(0, 6).Draw(t, "weeks"), rapid.IntRange(1, 14).Draw(t, "months"), rapid.IntRange(0, 3).Draw(t, "years")}
		at := day("2025-01-01 03:30")
		var all, there []time.Time
		for _, gap := range rapid.SliceOfN(rapid.IntRange(1, 40*24), 1, 60).Draw(t, "hours") {
			at = at.Add(time.Duration(gap) * time.Hour)
			all, there = append(all, at), append(there, at)
			drop := keep.Drop(there)
			there = slices.DeleteFunc(there, func(m time.Time) bool { return slices.ContainsFunc(drop, m.Equal) })
			if !slices.ContainsFunc(there, at.Equal) {
				t.Fatalf("the newest of all is gone: %v", at)
			}
			if most := keep.Days + keep.Weeks + keep.Months + keep.Years + 1; len(there) > most {
				t.Fatalf("%d are kept, more than %d", len(there), most)
			}
		}
		drop := keep.Drop(all)
		once := slices.DeleteFunc(slices.Clone(all), func(m time.Time) bool { return slices.ContainsFunc(drop, m.Equal) })
		if !slices.EqualFunc(once, there, time.Time.Equal) {
			t.Fatalf("night by night %v, at once %v", there, once)
		}
	})
}

func TestWhenACopyIsDue(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip("this machine knows no time zones")
	}
	in := func(s string) time.Time {
		t := day(s)
		return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), 0, 0, berlin)
	}
	for _, c := range []struct {
		what      string
		last, now time.Time
		due       bool
	}{
		{"the first is made at once", time.Time{}, in("2026-12-01 15:00"), true},
		{"not before its time", in("2026-11-30 03:30"), in("2026-12-01 03:29"), false},
		{"at its time", in("2026-11-30 03:30"), in("2026-12-01 03:30"), true},
		{"once a night", in("2026-12-01 03:30"), in("2026-12-01 23:59"), false},
		{"off in the night", in("2026-11-30 03:30"), in("2026-12-01 08:00"), true},
		{"made by day", in("2026-11-30 15:00"), in("2026-12-01 02:00"), false},
		{"the clock went back", in("2026-12-01 03:30"), in("2026-11-20 12:00"), false},
		{"the hour that is there twice", in("2026-10-25 03:30"), in("2026-10-25 04:00"), false},
		{"the night with an hour less", in("2026-03-28 03:30"), in("2026-03-29 04:00"), true},
	} {
		if got := Night.Due(c.last, c.now); got != c.due {
			t.Errorf("%s: due %v, want %v", c.what, got, c.due)
		}
	}
}

func TestNamesAndWordsAreReadBack(t *testing.T) {
	at := day("2026-12-01 03:30")
	const bench = "0123456789abcdef"
	name := Name(bench, at)
	if got, ok := Read(bench, name, time.UTC); !ok || !got.Equal(at) {
		t.Errorf("%s is read as %v, %v", name, got, ok)
	}
	for _, other := range []string{"tared-01234567-2026-12-01.jsonl", "tared-fedcba98-2026-12-01-033000.jsonl", name + ".part", "photos", ""} {
		if _, ok := Read(bench, other, time.UTC); ok {
			t.Errorf("%q is taken for a copy of this bench", other)
		}
	}
	for _, k := range []Keep{Usual, {Days: 1}, {Weeks: 1, Years: 3}} {
		if got, err := ReadKeep(k.String()); err != nil || got != k {
			t.Errorf("%s is read as %v, %v", k, got, err)
		}
	}
	for _, bad := range []string{"7", "7 moons", "-1 days", "0 days", "x days", "7 days;", "1000 days"} {
		if _, err := ReadKeep(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
	for _, bad := range []string{"24:00", "3", "03:60", "noon"} {
		if _, err := ReadClock(bad); err == nil {
			t.Errorf("%q was taken", bad)
		}
	}
}
