//go:build unix

package main

import (
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session/journal"
)

// The check that README.md tells people to make by hand, run as it stands there.
func TestTheCheckByHand(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	_, rest, ok := strings.Cut(string(text), "all lines at once:\n\n")
	require.True(t, ok)
	script, _, _ := strings.Cut(rest, "\n\n")
	require.Contains(t, script, "sha256sum")
	// The page tells the same.
	page, err := os.ReadFile(filepath.Join("..", "..", "web", "page", "proof.html"))
	require.NoError(t, err)
	_, rest, _ = strings.Cut(string(page), `id="script">`)
	shown, _, _ := strings.Cut(rest, "</pre>")
	assert.Equal(t, regexp.MustCompile(`(?m)^    `).ReplaceAllString(script, ""), html.UnescapeString(shown))
	dir := keptBatch(t)
	path := filepath.Join(dir, journal.Name)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	check := func() string {
		c := exec.CommandContext(t.Context(), "sh", "-c", script)
		c.Dir = dir
		out, err := c.CombinedOutput()
		require.NoError(t, err, "%s", out)
		return string(out)
	}
	assert.Equal(t, "read 5 lines; the last hashes to "+rep.Head.String()+"\n", check())

	// The closing hash, by the command that the record shows.
	_, out, _ := tared(t, "record", "260302a", "--data", dir)
	closing := regexp.MustCompile(`Closing hash .*\(([0-9a-f]{64})\)`).FindStringSubmatch(out)
	require.NotNil(t, closing, out)
	c := exec.CommandContext(t.Context(), "sh", "-c", regexp.MustCompile(`sed -n \d+p journal.jsonl \| sha256sum`).FindString(out))
	c.Dir = dir
	sum, err := c.Output()
	require.NoError(t, err)
	assert.Equal(t, closing[1], strings.Fields(string(sum))[0])

	// One digit of a weight, in line 3: line 4 no longer fits.
	at := strings.Index(string(whole), `"g":"1000.0"`) + len(`"g":"`)
	require.Equal(t, 2, strings.Count(string(whole[:at]), "\n"), "it stands in line 3")
	whole[at] = '2'
	require.NoError(t, os.WriteFile(path, whole, 0o600))
	assert.Contains(t, check(), "line 4 is damaged")
}

// Every row of the table stands in DEVELOPERS.md, with one of three answers.
func TestTheTableOfPromises(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	require.NoError(t, err)
	rows := regexp.MustCompile(`(?m)^\| ([ABC]\d+) \| [^|]+ \| (done|partly|no) \| [^|]+ \|$`).FindAllStringSubmatch(string(text), -1)
	var got []string
	for _, r := range rows {
		got = append(got, r[1])
	}
	assert.Equal(t, strings.Fields("A1 A2 A3 A4 A5 A6 A7 A8 A9 B1 B2 B3 B4 B5 B6 B7 B8 B9 B10 B11 B12 B13 B14 B15 C1 C2 C3 C4 C5 C6 C7 C8 C9 C10 C11 C12 C13"), got)
}
