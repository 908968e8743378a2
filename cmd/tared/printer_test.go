package main

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// printerOf is a program that keeps what it is given: its words, one a line, and a label a
// file.
func printerOf(t *testing.T) (path string, got func() (words []string, labels []string)) {
	t.Helper()
	if runtime.GOOS == "windows" {
		t.Skip("a shell script stands in for the printer")
	}
	dir := t.TempDir()
	path = filepath.Join(dir, "a printer")
	require.NoError(t, os.WriteFile(path, []byte(`#!/bin/sh
for w in "$@"; do printf '%s\n' "$w"; done >"$(dirname "$0")/words"
case "$1" in
fail) echo "no paper" >&2; exit 3;;
deaf) exit 0;;
esac
n=0
while [ -e "$(dirname "$0")/label-$n" ]; do n=$((n+1)); done
cat >"$(dirname "$0")/label-$n"
`), 0o700))
	return path, func() (words, labels []string) {
		b, err := os.ReadFile(filepath.Join(dir, "words"))
		require.NoError(t, err)
		words = strings.Split(strings.TrimSuffix(string(b), "\n"), "\n")
		files, err := filepath.Glob(filepath.Join(dir, "label-*"))
		require.NoError(t, err)
		for _, f := range files {
			b, err := os.ReadFile(f)
			require.NoError(t, err)
			labels = append(labels, string(b))
		}
		return words, labels
	}
}

// The command gets the label on its standard input, and its words as they stand: what a
// shell would make something of is nothing here.
func TestALabelGoesToThePrinterWithoutAShell(t *testing.T) {
	printer, got := printerOf(t)
	dir := keptBatch(t)
	_, svg, _ := tared(t, "label", "260302a", "--data", dir)
	code, out, errs := tared(t, "label", "260302a", "--print", "--count", "2", "--data", dir, "--printer", "'"+printer+`' -d "my labels" $(id) ;touch`+" `x` *")
	require.Equal(t, 0, code, errs)
	assert.Empty(t, out)
	words, labels := got()
	assert.Equal(t, []string{"-d", "my labels", "$(id)", ";touch", "`x`", "*"}, words)
	require.Len(t, labels, 2)
	assert.Equal(t, strings.TrimSuffix(svg, "\n"), labels[0])
	assert.Equal(t, labels[0], labels[1])

	code, _, errs = tared(t, "label", "260302a", "--print", "--count", "3", "--data", dir, "--printer", "'"+printer+"'", "--printer-as", "zpl 300dpi 100x60mm")
	require.Equal(t, 0, code, errs)
	_, labels = got()
	require.Len(t, labels, 3)
	zpl := labels[2]
	assert.True(t, strings.HasPrefix(zpl, "^XA\n^CI28\n^PW1200\n^LL720\n"), zpl)
	assert.Contains(t, zpl, "^PQ3\n^XZ\n")
	assert.Contains(t, zpl, "^FDMA,http://127.0.0.1:7410/book/260302a#")
}

// The file of settings names it, too.
func TestAPrinterOfTheSettings(t *testing.T) {
	printer, got := printerOf(t)
	file := filepath.Join(t.TempDir(), "tared.toml")
	require.NoError(t, os.WriteFile(file, []byte("print_label = \"'"+printer+"' x\"\nprint_as = \"svg 100x60mm\"\n"), 0o600))
	code, _, errs := tared(t, "label", "260302a", "--print", "--data", keptBatch(t), "--config", file)
	require.Equal(t, 0, code, errs)
	_, labels := got()
	require.Len(t, labels, 1)
	assert.Contains(t, labels[0], `width="100mm" height="60mm"`)
	require.NoError(t, os.WriteFile(file, []byte("print_as = \"pcl\"\n"), 0o600))
	code, _, errs = tared(t, "settings", "--config", file)
	assert.Equal(t, exitConfig, code)
	assert.Contains(t, errs, "line 1: print_as: “pcl”")
}

func TestWhatThePrinterSaysIsSaid(t *testing.T) {
	printer, _ := printerOf(t)
	dir := keptBatch(t)
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--printer", "'" + printer + "' fail"}, "no paper"},
		{[]string{"--printer", "/nowhere/lp"}, "/nowhere/lp"},
		{[]string{"--printer", "'lp"}, "close the quotes"},
		{[]string{"--printer", "lp", "--printer-as", "zpl 600dpi"}, "203 or 300 dpi"},
		{[]string{"--printer", "lp", "--printer-as", "svg 20x20mm"}, "too small"},
		{[]string{"--printer", "lp", "--count", "51"}, "Print 1 to 50"},
		{nil, "There is no label printer"},
	} {
		code, _, errs := tared(t, append([]string{"label", "260302a", "--print", "--data", dir}, c.args...)...)
		assert.NotEqual(t, 0, code, c.args)
		assert.Contains(t, errs, c.says)
	}
	code, _, errs := tared(t, "label", "260302a", "--print", "--data", dir, "--printer", "'"+printer+"' deaf")
	assert.Equal(t, 0, code, "one that takes nothing and says that all is well is believed: %s", errs)
}
