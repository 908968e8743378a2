package main

import (
	"context"
	"encoding/csv"
	"math/big"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/journal"
)

// strictCSV reads by the grammar of RFC 4180, section 2, and by nothing else:
// lines end in CR LF, quotes stand around a whole field, all lines have as many
// fields as the first.
func strictCSV(t *testing.T, s string) (rows [][]string) {
	t.Helper()
	for s != "" {
		var row []string
		for {
			var field strings.Builder
			if strings.HasPrefix(s, `"`) {
				for s = s[1:]; ; {
					i := strings.IndexByte(s, '"')
					require.GreaterOrEqual(t, i, 0, "a quote without its other end")
					field.WriteString(s[:i])
					s = s[i+1:]
					if !strings.HasPrefix(s, `"`) {
						break
					}
					field.WriteByte('"')
					s = s[1:]
				}
			} else {
				i := strings.IndexAny(s, ",\r\n\"")
				require.GreaterOrEqual(t, i, 0, "a line without its end")
				field.WriteString(s[:i])
				s = s[i:]
			}
			row = append(row, field.String())
			if !strings.HasPrefix(s, ",") {
				break
			}
			s = s[1:]
		}
		require.True(t, strings.HasPrefix(s, "\r\n"), "want CR LF, have %.10q", s)
		s = s[2:]
		rows = append(rows, row)
		require.Len(t, row, len(rows[0]))
	}
	return rows
}

func TestExportCSV(t *testing.T) {
	dir := keptBatch(t)
	code, out, errs := tared(t, "export", "--all", "--as", "csv", "--data", dir)
	require.Equal(t, 0, code, errs)
	rows := strictCSV(t, out)
	require.Len(t, rows, 2)
	got := map[string]string{}
	for i, name := range rows[0] {
		got[name] = rows[1][i]
	}
	assert.Equal(t, `Lye <b>white</b>, "matt"`, got["title"])
	assert.Equal(t, "Mara", got["by"])
	assert.Equal(t, "1000.0", got["delivered_g"])
	assert.Len(t, got["closing_hash"], 64)
	_, out, _ = tared(t, "export", "260302a", "--as", "csv", "--without", "names,prices", "--data", dir)
	assert.NotContains(t, out, "Mara")
	assert.Contains(t, out, "person 1")
}

func TestExportPage(t *testing.T) {
	dir := keptBatch(t)
	code, _, errs := tared(t, "judge", "260302a", "--tile", "KD-A", "--words", `<img src=x onerror=alert(1)> by MARA, and jonas's`, "--by", "Jonas", "--data", dir)
	require.Equal(t, 0, code, errs)
	curve := filepath.Join(t.TempDir(), "c.csv")
	require.NoError(t, os.WriteFile(curve, []byte("0,20\n90,1222"), 0o600))
	code, _, errs = tared(t, "fire", "260302a", "--kiln", "small", "--curve", curve, "--by", "Jonas", "--data", dir)
	require.Equal(t, 0, code, errs)
	code, out, errs := tared(t, "export", "260302a", "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "Lye &lt;b&gt;white&lt;/b&gt;")
	assert.Contains(t, out, "&lt;img src=x onerror=alert(1)&gt;")
	assert.Contains(t, out, "<svg")
	// Nothing outside: no script, no link, no picture, no address but the name of SVG.
	assert.NotRegexp(t, `(?i)<(script|link|img|iframe|object|base)\b|\bon\w+="|url\(|@import`, out)
	for _, u := range regexp.MustCompile(`https?://[^"' <]+`).FindAllString(out, -1) {
		assert.Equal(t, "http://www.w3.org/2000/svg", u, "the name of a kind of drawing, and no place")
	}
	assert.Contains(t, out, "Mara")
	code, out, errs = tared(t, "export", "260302a", "--without", "names", "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.NotRegexp(t, `(?i)mara|jonas`, out)
	assert.Contains(t, out, "by person 1, and person 2&#39;s")
	code, out, _ = tared(t, "export", "260302a", "--as", "lines", "--data", dir)
	require.Equal(t, 0, code)
	whole, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	assert.Equal(t, string(whole), out, "the lines of the only batch are those of the journal")
}

func TestExportIsRefused(t *testing.T) {
	dir := keptBatch(t)
	for words, args := range map[string][]string{
		"or --all":               {},
		"give the number of one": {"260302a", "--all"},
		"use csv, lines":         {"260302a", "--as", "pdf"},
		"stay whole":             {"--all", "--as", "lines", "--without", "names"},
		"give names, prices":     {"260302a", "--without", "faces"},
		"no batch 260302z in":    {"260302z"},
	} {
		code, out, errs := tared(t, append([]string{"export", "--data", dir}, args...)...)
		assert.NotEqual(t, 0, code, args)
		assert.Contains(t, errs, words)
		assert.Empty(t, out)
	}
}

// Export, wipe, import: the same bytes, so the same state and the same hashes.
func TestExportAndImport(t *testing.T) {
	dir := keptBatch(t)
	whole, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	_, shown, _ := tared(t, "record", "260302a", "--json", "--data", dir)
	code, out, errs := tared(t, "export", "--all", "--as", "lines", "--data", dir)
	require.Equal(t, 0, code, errs)
	file := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.WriteFile(file, []byte(out), 0o600))
	to := filepath.Join(t.TempDir(), "new")
	code, said, errs := tared(t, "import", file, "--data", to)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, said, "5 lines taken in")
	back, err := os.ReadFile(filepath.Join(to, journal.Name))
	require.NoError(t, err)
	assert.Equal(t, string(whole), string(back))
	_, again, _ := tared(t, "record", "260302a", "--json", "--data", to)
	assert.Equal(t, shown, again)
	code, _, errs = tared(t, "water", "260302a", "--added", "900g", "--by", "Mara", "--data", to)
	assert.Equal(t, 0, code, "the copy goes on: %s", errs)

	// Never over what is there.
	code, _, errs = tared(t, "import", file, "--data", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "never written over")

	// A bare journal needs the outside witness.
	bare := filepath.Join(dir, journal.Name)
	rep, err := journal.Read(dir, nil)
	require.NoError(t, err)
	code, _, errs = tared(t, "import", bare, "--data", t.TempDir())
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "--head")
	code, _, errs = tared(t, "import", bare, "--head", strings.Repeat("0", 64), "--data", t.TempDir())
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "hashes to")
	code, _, errs = tared(t, "import", bare, "--head", rep.Head.String(), "--data", t.TempDir())
	assert.Equal(t, 0, code, errs)
}

// Every byte of a copy, changed: refused, and nothing is left behind.
func TestImportOfAChangedByte(t *testing.T) {
	dir := keptBatch(t)
	_, out, _ := tared(t, "export", "--all", "--as", "lines", "--data", dir)
	for i := range out {
		for _, flip := range []byte{1, 0x20} {
			bad := []byte(out)
			bad[i] ^= flip
			if _, err := readCopy(strings.NewReader(string(bad)), discard{}, ""); err == nil {
				t.Fatalf("byte %d of %d", i, len(out))
			}
		}
	}
	for i := range out {
		if _, err := readCopy(strings.NewReader(out[:i]), discard{}, ""); err == nil {
			t.Fatalf("cut after %d bytes", i)
		}
	}
	rep, err := readCopy(strings.NewReader(out), discard{}, "")
	require.NoError(t, err)
	assert.EqualValues(t, 5, rep.Lines)

	to, file := t.TempDir(), filepath.Join(t.TempDir(), "bad")
	at := strings.Index(out, `"g":"1000.0"`) + 6
	require.NoError(t, os.WriteFile(file, []byte(out[:at]+"2"+out[at+1:]), 0o600))
	code, _, errs := tared(t, "import", file, "--data", to)
	assert.Equal(t, 1, code)
	assert.Regexp(t, `line \d`, errs, "the line is named")
	left, err := os.ReadDir(to)
	require.NoError(t, err)
	assert.Empty(t, left)
}

type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }

// A backup is made while a bench has the journal open, and practised elsewhere.
func TestBackupAndRestoreBesideARunningBench(t *testing.T) {
	dir := keptBatch(t)
	w, err := newLiveBench(liveBenchConfig{dir: dir, log: zerolog.Nop()})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- w.Run(ctx) }()
	require.NoError(t, w.bench.Alive(ctx)) // the line with which it begins is written
	file := filepath.Join(t.TempDir(), "glaze.tared")
	code, out, errs := tared(t, "backup", file, "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "6 lines, read back")
	_, err = w.bench.AddEntry(ctx, session.EntryRequest{Batch: "260302a", By: "Mara", Watered: &session.WaterRequest{Added: "900g"}}, nil)
	require.NoError(t, err)
	code, out, errs = tared(t, "backup", file, "--data", dir)
	require.Equal(t, 0, code, errs)
	assert.Contains(t, out, "7 lines, read back", "the newer takes the place of the older")
	code, _, errs = tared(t, "restore", file, "--data", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "never written over")
	to := t.TempDir()
	code, _, errs = tared(t, "restore", file, "--data", to)
	require.Equal(t, 0, code, errs)
	cancel()
	require.NoError(t, <-done)
	require.NoError(t, w.Close())
	a, err := os.ReadFile(filepath.Join(dir, journal.Name))
	require.NoError(t, err)
	b, err := os.ReadFile(filepath.Join(to, journal.Name))
	require.NoError(t, err)
	assert.Equal(t, string(a), string(b))

	// A damaged journal never takes the place of a good backup.
	good, err := os.ReadFile(file)
	require.NoError(t, err)
	a[30] ^= 1
	require.NoError(t, os.WriteFile(filepath.Join(dir, journal.Name), a, 0o600))
	code, _, errs = tared(t, "backup", file, "--data", dir)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "is as it was")
	still, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, good, still)
	left, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	assert.Len(t, left, 1)
	code, _, errs = tared(t, "backup", filepath.Join(dir, "none", "x"), "--data", to)
	assert.Equal(t, 1, code)
	assert.Contains(t, errs, "no such directory")
}

// A spreadsheet that is at hand opens the export and keeps every field. The options of
// its filter, from its help and from memory: a comma, double quotes, UTF-8, from line 1.
func TestCSVInASpreadsheet(t *testing.T) {
	office := ""
	for _, name := range []string{"soffice", "libreoffice"} {
		if path, err := exec.LookPath(name); office == "" && err == nil {
			office = path
		}
	}
	if office == "" {
		t.Skip("no LibreOffice here; TestExportCSV holds the same file strictly to RFC 4180")
	}
	dir, to := keptBatch(t), t.TempDir()
	file := filepath.Join(t.TempDir(), "all.csv")
	code, _, errs := tared(t, "export", "--all", "--as", "csv", "--out", file, "--data", dir)
	require.Equal(t, 0, code, errs)
	const filter = ":44,34,76,1"
	cmd := exec.CommandContext(t.Context(), office, "-env:UserInstallation=file://"+filepath.ToSlash(t.TempDir()), "--headless",
		"--infilter=CSV"+filter, "--convert-to", "csv:Text - txt - csv (StarCalc)"+filter, "--outdir", to, file)
	said, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", said)
	read := func(path string) [][]string {
		f, err := os.Open(path)
		require.NoError(t, err)
		defer func() { _ = f.Close() }()
		rows, err := csv.NewReader(f).ReadAll()
		require.NoError(t, err)
		return rows
	}
	want, got := read(file), read(filepath.Join(to, "all.csv"))
	require.Len(t, got, len(want))
	for i := range want {
		require.Len(t, got[i], len(want[i]))
		for k := range want[i] {
			a, number := new(big.Rat).SetString(want[i][k])
			if b, ok := new(big.Rat).SetString(got[i][k]); number && ok {
				assert.Zero(t, a.Cmp(b), "%s: %s became %s", want[0][k], want[i][k], got[i][k])
			} else if _, err := time.Parse(time.RFC3339, want[i][k]); err != nil && !strings.EqualFold(want[i][k], got[i][k]) { // a time, and a truth value, are shown as it likes
				assert.Equal(t, want[i][k], got[i][k], want[0][k])
			}
		}
	}
}
