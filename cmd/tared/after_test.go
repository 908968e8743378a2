package main

import (
	"bytes"
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/session"
	"tared/session/fact"
	"tared/session/journal"
	"tared/web"
)

// keptBatch writes a journal with one invented batch of 1000 g that is closed.
func keptBatch(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	j, _, _, err := session.Open(dir, "", time.Time{})
	require.NoError(t, err)
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	kg := 1000 * protocol.Gram
	line := fact.Line{Material: "Quartz", Role: "base", Share: "100", Target: kg, Low: kg - protocol.Gram, High: kg + protocol.Gram, Scale: "bench", Weighable: "good"}
	var facts []fact.Fact
	for i, body := range []fact.Body{
		fact.Planned{Title: "Lye <b>white</b>, \"matt\"", Recipe: "Quartz 100", Base: kg, Dry: kg, Lines: []fact.Line{line}, Scales: []fact.Scale{{Name: "bench", Step: protocol.Gram / 10}}},
		fact.Reminded{Answer: "yes"},
		fact.Portion{Material: "Quartz", Scale: "bench", Delivered: kg, Step: protocol.Gram / 10, How: "typed", Verdict: "in"},
		fact.Noted{Text: "Mara says: =1+1, and\na second line"},
		fact.Finished{Base: kg, Dry: kg},
	} {
		facts = append(facts, fact.Fact{Seq: uint64(i + 1), At: at, Batch: "260302a", By: "Mara", Body: body})
	}
	_, err = session.Into(j).Append(facts)
	require.NoError(t, err)
	require.NoError(t, j.Close())
	return dir
}

// tared runs one command line and gives its exit code with what it wrote.
func tared(t *testing.T, args ...string) (code int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(t.Context(), args, strings.NewReader(""), &o, &e)
	return code, o.String(), e.String()
}

func TestWaterFireJudgeStrike(t *testing.T) {
	dir := keptBatch(t)
	curve := filepath.Join(t.TempDir(), "curve.csv")
	require.NoError(t, os.WriteFile(curve, []byte("minutes,celsius\n0,20\n90,1222\n"), 0o600))
	for _, c := range []struct {
		code  int
		words string
		args  []string
	}{
		{0, "No water is recorded", []string{"water", "260302a"}},
		{0, "entry 6 of batch 260302a", []string{"water", "260302A", "--added", "900g", "--by", "Mara"}},
		{0, "agree", []string{"water", "260302a", "--sample", "148.7g", "--volume", "100ml", "--by", "Mara"}},
		{0, "cannot be taken out", []string{"water", "260302a", "--wanted", "1.4"}},
		{64, "more than 1", []string{"water", "260302a", "--wanted", "1"}},
		{64, "lighter than water", []string{"water", "260302a", "--sample", "90g", "--volume", "100ml", "--by", "Mara"}},
		{64, "must be more than zero", []string{"water", "260302a", "--sample", "90g", "--volume", "0ml", "--by", "Mara"}},
		{64, "needs a name", []string{"water", "260302a", "--added", "900g"}},
		{64, "no batch", []string{"judge", "260302c", "--tile", "A", "--words", "x", "--by", "Mara"}},
		{0, "entry 8", []string{"fire", "260302a", "--kiln", "small", "--curve", curve, "--by", "Jonas"}},
		{1, "curve:", []string{"fire", "260302a", "--kiln", "small", "--curve", curve + "x", "--by", "Jonas"}},
		{0, "entry 9", []string{"judge", "260302a", "--tile", "KD-A", "--tag", "matt", "--verdict", "keep", "--by", "Mara"}},
		{64, "Give a reason for striking", []string{"strike", "260302a", "--entry", "9", "--by", "Mara"}},
		{64, "Only a portion", []string{"strike", "260302a", "--entry", "2", "--reason", "wrong", "--by", "Mara"}},
		{0, "entry 10", []string{"strike", "260302a", "--entry", "9", "--reason", "another tile", "--by", "Mara"}},
		{0, "[struck out, see 10] Tile KD-A", []string{"record", "260302a"}},
		{0, "No vessel was measured", []string{"vessel"}},
		{64, "How warm", []string{"vessel", "the cylinder", "--water", "99.8g", "--by", "Mara"}},
		{0, "the cylinder holds 99.98 ml", []string{"vessel", "the cylinder", "--water", "99.8g", "--celsius", "20", "--by", "Mara"}},
		{0, "the cylinder: 99.98 ml, measured", []string{"vessel"}},
		{64, "has not been measured. These have: the cylinder", []string{"water", "260302a", "--sample", "148.7g", "--vessel", "the bottle", "--by", "Mara"}},
		{0, "entry 12", []string{"water", "260302a", "--sample", "148.7g", "--vessel", "The cylinder", "--by", "Mara"}},
		{0, "the vessel “the cylinder” took 148.7 g of slip", []string{"record", "260302a"}},
		{64, "Give a reason for correcting", []string{"correct", "260302a", "--entry", "3", "--weight", "990.0g", "--by", "Jonas"}},
		{64, "no unit", []string{"correct", "260302a", "--entry", "3", "--weight", "990", "--reason", "read wrongly", "--by", "Jonas"}},
		{64, "needs a name", []string{"correct", "260302a", "--entry", "3", "--weight", "990.0g", "--reason", "read wrongly"}},
		{0, "entry 13", []string{"correct", "260302A", "--entry", "3", "--weight", "990.0g", "--reason", "read wrongly", "--by", "Jonas"}},
		{0, "corrected, was 1000.0 g when the batch was closed", []string{"record", "260302a"}},
		{64, "gravity of 4.000", []string{"water", "260302a", "--sample", "400g", "--volume", "100ml", "--by", "Mara"}},
	} {
		code, out, errs := tared(t, append(c.args, "--data", dir)...)
		assert.Equal(t, c.code, code, "%v: %s%s", c.args, out, errs)
		assert.Contains(t, out+errs, c.words, "%v", c.args)
	}
	code, _, errs := tared(t, "water", "260302a", "--added", "1g", "--by", "Mara", "--data", t.TempDir())
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "no journal", "a wrong --data begins none")
}

// While a bench runs, it alone writes; the command goes through it.
func TestWaterThroughARunningBench(t *testing.T) {
	dir := keptBatch(t)
	w, err := newLiveBench(liveBenchConfig{dir: dir, log: zerolog.Nop()})
	require.NoError(t, err)
	code, _, errs := tared(t, "water", "260302a", "--added", "900g", "--by", "Mara", "--data", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "Another tared is using")

	ctx, cancel := context.WithCancel(t.Context())
	ready, done := make(chan net.Addr, 1), make(chan error, 1)
	go func() {
		done <- withPage(ctx, w, web.Config{Addr: "127.0.0.1:0", Log: zerolog.Nop(), Book: pageBook{&w.record}, Ready: func(a net.Addr) { ready <- a }})
	}()
	<-ready
	code, out, errs := tared(t, "water", "260302a", "--added", "900g", "--by", "Mara", "--data", dir)
	assert.Equal(t, 0, code, errs)
	assert.Contains(t, out, "entry 7", "after the line with which the bench began")
	code, _, errs = tared(t, "strike", "260302a", "--entry", "5", "--reason", "x", "--by", "Mara", "--data", dir)
	assert.Equal(t, 64, code)
	assert.Contains(t, errs, "Only a portion")
	code, out, errs = tared(t, "correct", "260302a", "--entry", "3", "--weight", "990.0g", "--reason", "read wrongly", "--by", "Jonas", "--data", dir)
	assert.Equal(t, 0, code, errs)
	assert.Contains(t, out, "entry 8")
	cancel()
	require.NoError(t, <-done)
	require.NoError(t, w.Close())
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	assert.EqualValues(t, 8, rep.Lines)
}
