//go:build unix

package main

import (
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
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

// The check of a signature, as the page and the record tell people to make it, and on the
// lines of the batch alone, as they are exported.
func TestTheSignatureByHand(t *testing.T) {
	if _, err := exec.LookPath("openssl"); err != nil {
		t.Skip("openssl is not here")
	}
	dir := t.TempDir()
	got := runTared(t, "yes Mara\ntyped 60.00g\ntyped 40.00g\n", "weigh", writeFile(t, "recipe.txt", "Quartz 60\nWhiting 40\n"), "--base", "100g", "--data", dir, "--sign", "ka", "--scale", "name=fine,port=eye,step=0.01g,max=300g")
	require.Equal(t, exitDone, got.code, got.err)
	mark := regexp.MustCompile(`KA\d{6}a`).FindString(got.out)
	require.NotEmpty(t, mark, got.out)
	_, record, _ := tared(t, "record", mark, "--data", dir)
	bench := regexp.MustCompile(`Signed by the bench ([0-9a-f]{64})`).FindStringSubmatch(record)
	require.NotNil(t, bench, record)
	_, svg, errs := tared(t, "label", mark, "--data", dir, "--link", "http://bench.test/")
	require.Empty(t, errs)
	assert.Contains(t, svg, "KA-AA-A")
	short := regexp.MustCompile(`Bench ((?:[0-9a-f]{4} ?)+)<`).FindStringSubmatch(svg)
	require.NotNil(t, short, svg)
	assert.True(t, strings.HasPrefix(bench[1], strings.ReplaceAll(short[1], " ", "")))

	sh := func(script string) (string, error) {
		c := exec.CommandContext(t.Context(), "sh", "-c", script)
		c.Dir = dir
		out, err := c.CombinedOutput()
		return string(out), err
	}
	_, check, ok := strings.Cut(record, "To check the signature: ")
	require.True(t, ok)
	check, _, _ = strings.Cut(check, "\n")
	out, err := sh(check)
	require.NoError(t, err, out)
	assert.Contains(t, out, "Verified Successfully")

	page, err := os.ReadFile(filepath.Join("..", "..", "web", "page", "proof.html"))
	require.NoError(t, err)
	_, rest, _ := strings.Cut(string(page), `id="signature">`)
	script, _, _ := strings.Cut(rest, "</pre>")
	script = html.UnescapeString(script)
	path := filepath.Join(dir, journal.Name)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	_, exported, _ := tared(t, "export", mark, "--as", "lines", "--data", dir)
	for _, lines := range []string{string(whole), exported} {
		require.NoError(t, os.WriteFile(path, []byte(lines), 0o600))
		n := strings.Count(lines[:strings.Index(lines, `"kind":"finished"`)], "\n") + 1
		by := strings.NewReplacer("57p", strconv.Itoa(n)+"p", "58p", strconv.Itoa(n+1)+"p").Replace(script)
		out, err := sh(by)
		require.NoError(t, err, out)
		assert.Contains(t, out, "Verified Successfully")
		assert.Contains(t, out, bench[1])
		require.NoError(t, os.WriteFile(path, []byte(strings.Replace(lines, `"kind":"finished"`, `"kind":"Finished"`, 1)), 0o600))
		out, _ = sh(by)
		assert.NotContains(t, out, "Verified Successfully")
	}

	// A signature that was changed, in a chain that is made good again, is named.
	all := strings.SplitAfter(string(whole), "\n")
	k := strings.Index(all[len(all)-2], `"signature":"`) + len(`"signature":"`)
	all[len(all)-2] = all[len(all)-2][:k] + strings.Map(func(r rune) rune { return 'A' }, all[len(all)-2][k:k+4]) + all[len(all)-2][k+4:]
	require.NoError(t, os.WriteFile(path, []byte(strings.Join(all, "")), 0o600))
	code, out, errs := tared(t, "verify", "--data", dir)
	assert.Equal(t, exitFailed, code)
	assert.Contains(t, out+errs, "is not that of the line that closed the batch")
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
