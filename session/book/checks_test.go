package book

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tared/session/fact"
)

// A known weight before a batch and the first one after it stand in its record.
func TestChecksAroundABatch(t *testing.T) {
	at := time.Date(2026, 11, 26, 7, 0, 0, 0, time.UTC)
	check := func(pass bool, words string) fact.Fact {
		at = at.Add(time.Hour)
		return fact.Fact{At: at, By: "Mara", Body: fact.Checked{Scale: "bench", What: "mass", Pass: pass, Words: words}}
	}
	plan := func(mark string) fact.Fact {
		at = at.Add(time.Hour)
		return fact.Fact{At: at, Batch: mark, Body: fact.Planned{Title: "Bath house green (invented)",
			Scales: []fact.Scale{{Name: "bench"}, {Name: "fine"}}}}
	}
	var b Book
	add := func(f fact.Fact) { b.Add(f, [32]byte{}) }
	words := func(mark string) string { return strings.Join(b.Find(mark).Made().Words, "\n") }

	add(plan("a"))
	require.NotContains(t, words("a"), "known weight", "nobody ever checked")
	add(check(true, "It passed."))
	require.Contains(t, words("a"), "the bench scale had never been checked with a known weight")
	require.Contains(t, words("a"), "It was next checked on 2026-11-26 09:00 +00:00. It passed.")
	require.NotContains(t, words("a"), "fine", "nothing is known of the other scale")

	add(plan("b"))
	require.Contains(t, words("b"), "on 2026-11-26 09:00 +00:00, the bench scale was checked with a known weight. It passed.")
	require.NotContains(t, words("b"), "next checked")
	add(check(false, "It failed."))
	require.Contains(t, words("b"), "So the bench scale may already have been wrong in this batch.")
	require.NotContains(t, words("a"), "wrong", "between stands one that passed")
	add(check(true, "It passed again."))
	require.NotContains(t, words("b"), "again", "only the first since")
}
