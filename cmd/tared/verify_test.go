package main

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// forged writes a journal in which one text was exchanged for another and the chain made
// anew, so that every line holds.
func forged(t *testing.T, old, is string) (dir string, line int) {
	t.Helper()
	b, err := os.ReadFile("testdata/journal-1.jsonl")
	require.NoError(t, err)
	var out strings.Builder
	prev := strings.Repeat("0", 64)
	for i, l := range strings.Split(strings.TrimSpace(string(b)), "\n") {
		_, rest, _ := strings.Cut(l, `"prev":"`)
		l = strings.Replace(l, `"prev":"`+rest[:64], `"prev":"`+prev, 1)
		if line == 0 && strings.Contains(l, old) {
			l, line = strings.Replace(l, old, is, 1), i+1
		}
		sum := sha256.Sum256([]byte(l + "\n"))
		prev = hex.EncodeToString(sum[:])
		out.WriteString(l + "\n")
	}
	require.NotZero(t, line)
	dir = t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "journal.jsonl"), []byte(out.String()), 0o600))
	return dir, line
}

// A chain made anew holds, and the record does not: verify names the line, what it says
// and what follows.
func TestVerifyTellsAForgedRecord(t *testing.T) {
	for _, c := range [][3]string{
		{`"raw":["ST,GS,+  281.0 g"`, `"raw":["ST,GS,+  271.0 g"`, "follows"},
		{`"verdict":"in"`, `"verdict":"under"`, "“in” follows"},
		{`"delivered":{"g":"162.5"}`, `"delivered":{"g":"163.5"}`, "162.5 g follows from before and after"},
	} {
		dir, line := forged(t, c[0], c[1])
		code, out, errs := tared(t, "verify", "--data", dir)
		assert.Equal(t, 1, code, c)
		assert.Contains(t, out, "every line is intact")
		assert.Contains(t, errs, c[2])
		assert.Contains(t, errs, "line "+strconv.Itoa(line), c)
		code, out, _ = tared(t, "verify", "--json", "--data", dir)
		assert.Equal(t, 1, code)
		assert.Contains(t, out, `"ok":false`)
		assert.Contains(t, out, `"differs":[{"line":`)
	}
}

func TestVerifyFindsAHash(t *testing.T) {
	b, err := os.ReadFile("testdata/journal-1.jsonl")
	require.NoError(t, err)
	lines := strings.SplitAfter(string(b), "\n")
	at := 0
	for i, l := range lines {
		if strings.Contains(l, `"kind":"finished"`) {
			at = i
			break
		}
	}
	require.NotZero(t, at)
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "journal.jsonl"), b, 0o600))
	sum := sha256.Sum256([]byte(lines[at]))
	hash := hex.EncodeToString(sum[:])
	for _, given := range []string{hash, strings.ToUpper(hash[:16]), hash[:4] + " " + hash[4:8] + " " + hash[8:12] + " " + hash[12:16]} {
		code, out, errs := tared(t, "verify", "--data", dir, "--hash", given)
		assert.Equal(t, 0, code, errs)
		assert.Contains(t, out, "line "+strconv.Itoa(at+1)+", batch ")
		assert.Contains(t, out, "has the hash: finished")
	}
	other := strings.Repeat("f", 64)
	code, _, errs := tared(t, "verify", "--data", dir, "--hash", other)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "no line of this journal has it")
	for _, bad := range []string{"1234567", "nothing!", hash + "0"} {
		code, _, _ = tared(t, "verify", "--data", dir, "--hash", bad)
		assert.Equal(t, 64, code, bad)
	}
}
