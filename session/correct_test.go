package session

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/book"
	"tared/session/doubt"
	"tared/session/fact"
	"tared/session/journal"
)

// closedTwo writes a journal with two invented batches of quartz and whiting that are
// closed; the whiting of the first was typed with two digits swapped.
func closedTwo(t *testing.T) string {
	dir := t.TempDir()
	j, _, _, err := open(dir, time.Time{})
	require.NoError(t, err)
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	var facts []fact.Fact
	put := func(mark string, body fact.Body) {
		facts = append(facts, fact.Fact{Seq: uint64(len(facts) + 1), At: at, Batch: mark, By: "Mara", Body: body})
	}
	for _, mark := range []string{"260302a", "260302b"} {
		lines := []fact.Line{line("Quartz", "base", "65", "0.6", "bench"), line("Whiting", "base", "35", "0.3", "eye")}
		lines[0].Share, lines[1].Share = "65", "35"
		put(mark, fact.Planned{Title: "Test glaze (invented)", Base: g("100"), Dry: g("100"), Lines: lines,
			Scales: []fact.Scale{{Name: "bench", Step: g("0.1"), Max: g("2000")}, {Name: "eye", Step: g("0.1"), Eye: true, Assumed: true}}})
		put(mark, fact.Portion{Material: "Quartz", Scale: "bench", Before: g("277.0"), After: g("212.0"), Delivered: g("65.0"), U: g("0.13"), Step: g("0.1"), How: "tipped", Verdict: "in"})
		w := map[string]string{"260302a": "53.0", "260302b": "35.0"}[mark]
		put(mark, fact.Portion{Material: "Whiting", Scale: "eye", Before: g(w), Delivered: g(w), U: g("0.13"), Step: g("0.1"), How: "typed", Verdict: "over"})
		put(mark, fact.Finished{Base: g("65") + g(w), Dry: g("65") + g(w)})
	}
	_, err = Into(j).Append(facts)
	require.NoError(t, err)
	require.NoError(t, j.Close())
	return dir
}

func TestAWrongCorrectionIsRefused(t *testing.T) {
	dir := closedTwo(t)
	for words, r := range map[string]EntryRequest{
		"a reason for correcting":     {Correct: &WeightRequest{Entry: 3, Weight: "35.0g", Reason: " \t"}},
		"cannot be shown":             {Correct: &WeightRequest{Entry: 3, Weight: "35.0g", Reason: "\x1b[2J"}},
		"has no entry 99":             {Correct: &WeightRequest{Entry: 99, Weight: "35.0g", Reason: "x"}},
		"has no entry 6":              {Correct: &WeightRequest{Entry: 6, Weight: "35.0g", Reason: "of the other batch"}},
		"Entry 4 is “finished”":       {Correct: &WeightRequest{Entry: 4, Weight: "35.0g", Reason: "x"}},
		"no unit":                     {Correct: &WeightRequest{Entry: 3, Weight: "35.0", Reason: "x"}},
		"heaps":                       {Correct: &WeightRequest{Entry: 3, Weight: "heaps", Reason: "x"}},
		"-35":                         {Correct: &WeightRequest{Entry: 3, Weight: "-35g", Reason: "x"}},
		"1,234g":                      {Correct: &WeightRequest{Entry: 3, Weight: "1,234g", Reason: "can be read in two ways"}},
		"strike out entry 3":          {Correct: &WeightRequest{Entry: 3, Weight: "0.0g", Reason: "x"}},
		"is already 53 g":             {Correct: &WeightRequest{Entry: 3, Weight: "53.0g", Reason: "x"}},
		"bench scale can be (2000 g)": {Correct: &WeightRequest{Entry: 2, Weight: "2000.1g", Reason: "more than it holds"}},
		"eye scale can be (1000 g)":   {Correct: &WeightRequest{Entry: 3, Weight: "35kg", Reason: "the wrong unit, ten batches at once"}},
		"needs a name":                {By: " ", Correct: &WeightRequest{Entry: 3, Weight: "35.0g", Reason: "x"}},
		"one thing at a time":         {Correct: &WeightRequest{Entry: 3, Weight: "35.0g", Reason: "x"}, Strike: &StrikeRequest{Entry: 3, Reason: "x"}},
		"Entry 1 is “planned”":        {Strike: &StrikeRequest{Entry: 1, Reason: "x"}},
		"a reason for striking":       {Strike: &StrikeRequest{Entry: 3}},
	} {
		if r.By == "" {
			r.By = "Jonas"
		}
		r.Batch = "260302a"
		_, _, err := RecordEntry(dir, "", time.Now(), r)
		require.ErrorIs(t, err, ErrRefused, words)
		assert.ErrorContains(t, err, words)
	}
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	assert.EqualValues(t, 8, rep.Lines, "nothing that was refused is recorded")
}

// The old weight stays beside the new one wherever the portion shows, with who, why,
// and that it was typed; the closing hash stands.
func TestACorrectedPortion(t *testing.T) {
	dir := closedTwo(t)
	hash := bookIn(dir).Find("260302a").Made().Hash
	added, _, err := RecordEntry(dir, "", time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC), EntryRequest{Batch: "260302a", By: "Jonas",
		Correct: &WeightRequest{Entry: 3, Weight: "35,0 g", Reason: "two digits swapped"}})
	require.NoError(t, err)
	assert.EqualValues(t, 9, added.Seq)
	var last string
	_, err = journal.Read(dir, func(r journal.Record) error { last = string(r.Line); return nil })
	require.NoError(t, err)
	assert.Contains(t, last, `"kind":"amended","batch":"260302a","by":"Jonas"`)
	assert.Contains(t, last, `"of":3,"reason":"two digits swapped","was":{"g":"53.0"},"is":{"g":"35.0"},"material":"Whiting","how":"typed","u":{"g":"0.129099445"},"step":{"g":"0.1"}`)

	b := bookIn(dir)
	n := b.Find("260302a")
	m := n.Made()
	assert.Equal(t, hash, m.Hash)
	w := m.Lines[1]
	require.NotNil(t, w.AtClosing)
	assert.Equal(t, []string{"35.0", "53.0", "35.000", "44.915", "in"}, []string{w.Delivered.String(), w.AtClosing.String(), w.Share, w.ShareAtClosing, w.Verdict})
	assert.Nil(t, m.Lines[0].AtClosing, "its share moved, its weight did not")
	p := m.Pours[1]
	require.NotNil(t, p.Is)
	require.NotNil(t, p.Correction)
	assert.Equal(t, []string{"53.0", "35.0"}, []string{p.Delivered.String(), p.Is.String()})
	assert.Equal(t, book.Correction{Seq: 9, At: time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC), By: "Jonas", Reason: "two digits swapped", Typed: true, Late: true, U: p.Correction.U}, *p.Correction)
	assert.Contains(t, strings.Join(m.Words, "\n"), "person's word")

	var out bytes.Buffer
	require.NoError(t, m.Render(&out))
	for _, want := range []string{"was 53.0 g when the batch was closed", "Amended entry 3: Whiting, 35.0 g typed in place of 53.0 g.", "Jonas", "two digits swapped", "no scale showed it", book.Short(hash)} {
		assert.Contains(t, out.String(), want)
	}
	out.Reset()
	require.NoError(t, book.WriteCSV(&out, false, nil, book.Only(n)))
	rows, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	at := func(row int, name string) string { return rows[row][slices.Index(rows[0], name)] }
	assert.Equal(t, []string{"35.0", "53.0", "44.915"}, []string{at(2, "delivered_g"), at(2, "delivered_at_closing_g"), at(2, "made_percent_at_closing")})
	assert.Contains(t, at(2, "corrected"), "Jonas")
	assert.Contains(t, at(2, "corrected"), "two digits swapped")
	assert.Empty(t, at(1, "delivered_at_closing_g")+at(1, "corrected"))
	require.NoError(t, book.WritePage(&out, time.Now(), nil, nil, 1, book.Only(n)))
	for _, want := range []string{"<s>53.0</s> 35.0", "<s>44.915</s> 35.000", "Then typed by Jonas", "two digits swapped", hash} {
		assert.Contains(t, out.String(), want)
	}
	c := book.Compare(b.Find("260302b"), n)
	assert.Equal(t, "44.915", c.Lines[1].Cells[1].ShareAtClosing)
	assert.Contains(t, strings.Join(c.Notes, "\n"), "35.0 g counts, not 53.0 g")
	assert.Contains(t, strings.Join(c.Notes, "\n"), "no scale showed it")
	assert.False(t, c.Explains, "with the digits put right the two are alike")

	// Without names the person is a number here, too.
	out.Reset()
	names, err := indexIn(t, dir).Names()
	require.NoError(t, err)
	require.NoError(t, book.WritePage(&out, time.Now(), names, nil, 1, book.Only(n)))
	assert.NotContains(t, out.String(), "Jonas")

	// A portion that did not go in at all.
	_, _, err = RecordEntry(dir, "", time.Now(), EntryRequest{Batch: "260302a", By: "Mara", Strike: &StrikeRequest{Entry: 3, Reason: "it went into the other bucket"}})
	require.NoError(t, err)
	m = bookIn(dir).Find("260302a").Made()
	assert.Equal(t, []string{"0.0", "53.0"}, []string{m.Lines[1].Delivered.String(), m.Lines[1].AtClosing.String()})
	assert.True(t, m.Pours[1].Void)
	assert.Contains(t, strings.Join(m.Lines[1].Corrected, "\n"), "entry 3 was 35.0 g, struck out; Mara")
	assert.Equal(t, "it went into the other bucket", m.Pours[1].Correction.Reason)
	assert.Equal(t, hash, m.Hash)
	_, _, err = RecordEntry(dir, "", time.Now(), EntryRequest{Batch: "260302a", By: "Mara", Correct: &WeightRequest{Entry: 3, Weight: "1g", Reason: "x"}})
	assert.ErrorContains(t, err, "struck out")
}

// U is that of what was typed: 1.291 of the last digit typed (2u with u·u = d·d/6 + s·s, s =
// d/2 assumed), or of the step of the scale where that is coarser; the span of the scale goes with the
// weight that was typed, whatever was weighed.
func TestUOfACorrectedPortion(t *testing.T) {
	for weight, want := range map[string]string{"35g": "1.290994449", "35.0g": "0.129099445", "35.00g": "0.129099445", "0.04kg": "12.909944488"} {
		dir := closedTwo(t)
		_, _, err := RecordEntry(dir, "", time.Now(), EntryRequest{Batch: "260302a", By: "Jonas", Correct: &WeightRequest{Entry: 3, Weight: weight, Reason: "x"}})
		require.NoError(t, err)
		assert.Equal(t, g(want), bookIn(dir).Find("260302a").Made().Lines[1].U.Mass, weight)
	}
	// Class III, 0.1 g (OIML R 76-1:2006, Table 6): of 8 g 0.1 g in service, 2·√(0.01/6 + 0.0025 + 0.01/3).
	classed := book.Amendable{Weighs: doubt.Scale{Step: g("0.1"), Gauge: doubt.Gauge{Class: "III"}}}
	a := classed.Correct(fact.Typed{Mass: g("8"), Step: g("0.1")}, "x")
	assert.Equal(t, []protocol.Mass{g("0.173205081"), g("0.115470054")}, []protocol.Mass{a.U, a.Span})
	b := batch.New(fact.Fact{Batch: "a"}, fact.Planned{Lines: []fact.Line{line("Whiting", "base", "85", "0.8", "bench")}})
	b.Apply(fact.Fact{Seq: 2, Body: fact.Portion{Material: "Whiting", Scale: "bench", Delivered: g("85"), U: g("0.264575132"), Span: g("0.230940108"), Step: g("0.1")}})
	a.Of, a.Material = 2, "Whiting"
	b.Apply(fact.Fact{Seq: 3, Body: a})
	assert.Equal(t, a.U, b.Steps[0].DeliveredU(), "that of 85 g is gone")
	assert.Equal(t, a.Span, b.Steps[0].On[0].Span)
}

// Whatever is corrected and struck, beside a running bench: what it has in its state is
// what the journal says when it is read again, and what counts is the last word.
func TestCorrectionsLiveAndReplayed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dir := closedTwo(t)
		b, end := benchOn(t, dir)
		ctx := t.Context()
		sum := map[uint64]protocol.Mass{6: g("65"), 7: g("35")}
		for range rapid.IntRange(1, 6).Draw(rt, "corrections") {
			entry := rapid.SampledFrom([]uint64{6, 7}).Draw(rt, "entry")
			r := EntryRequest{Batch: "260302b", By: "Jonas"}
			m := protocol.Mass(rapid.Int64Range(1, 900).Draw(rt, "tenths")) * protocol.Gram / 10
			if strike := rapid.IntRange(0, 4).Draw(rt, "strike") == 0; strike {
				r.Strike, m = &StrikeRequest{Entry: entry, Reason: "x"}, 0
			} else {
				r.Correct = &WeightRequest{Entry: entry, Weight: m.Grams(1) + "g", Reason: "x"}
			}
			_, err := b.AddEntry(ctx, r, entryIn(dir, r.Batch))
			switch {
			case err == nil:
				sum[entry] = m
			case sum[entry] != 0 && sum[entry] != m:
				rt.Fatal(err)
			}
		}
		var live batch.Batch
		require.NoError(t, b.call(ctx, func() { live = *b.s.Batch }))
		end()
		j, again, _, err := open(dir, time.Time{})
		require.NoError(t, err)
		require.NoError(t, j.Close())
		var s State
		for _, f := range again.Facts {
			s = s.Apply(f)
		}
		for i, name := range []string{"Quartz", "Whiting"} {
			want := sum[uint64(6+i)]
			assert.Equal(t, want, live.Steps[i].Delivered, name)
			assert.Equal(t, live.Steps[i].Delivered, s.Batch.Steps[i].Delivered, name)
			assert.Zero(t, live.Steps[i].U2.Cmp(s.Batch.Steps[i].U2), name)
			l := bookIn(dir).Find("260302b").Made().Lines[i]
			assert.Equal(t, want, l.Delivered.Mass, name)
			assert.Equal(t, want != map[string]protocol.Mass{"Quartz": g("65"), "Whiting": g("35")}[name], l.AtClosing != nil, name)
		}
	})
}

// A correction is a fact like any other: what is read is written again alike.
func TestACorrectionIsWrittenAsItWasRead(t *testing.T) {
	a := fact.Amended{Of: 3, Reason: "x", Material: "Whiting", Was: g("53"), Is: g("35"), How: "typed", U: g("0.13"), Step: g("0.1")}
	one, err := json.Marshal(a)
	require.NoError(t, err)
	b, err := fact.DecodeBody("amended", one)
	require.NoError(t, err)
	assert.Equal(t, a, b)
}

// Two who correct the same portion at once: each amendment says what was there before
// it, and none says the same.
func TestCorrectionsAtOnce(t *testing.T) {
	dir := closedTwo(t)
	b, end := benchOn(t, dir)
	ctx := t.Context()
	var all sync.WaitGroup
	for i := range 12 {
		all.Go(func() {
			_, err := b.AddEntry(ctx, EntryRequest{Batch: "260302a", By: "Jonas", Correct: &WeightRequest{Entry: 3, Weight: fmt.Sprintf("%d.0g", 20+i), Reason: "x"}}, entryIn(dir, "260302a"))
			assert.NoError(t, err)
		})
	}
	all.Wait()
	end()
	is := g("53")
	for _, c := range bookIn(dir).Find("260302a").Made().Changes {
		assert.Equal(t, is.Grams(1)+" g", c.Old)
		m, err := protocol.ParseMass(strings.ReplaceAll(c.New, " ", ""))
		require.NoError(t, err)
		is = m
	}
}
