package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every command that a program can read says what is wrong as one JSON object, wherever on the
// command line the flag stands.
func TestErrorsForPrograms(t *testing.T) {
	t.Parallel()
	var all [][]string
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		if c.Runnable() && c.Flags().Lookup("json") != nil {
			all = append(all, strings.Fields(c.CommandPath())[1:])
		}
		for _, below := range c.Commands() {
			walk(below)
		}
	}
	walk(newRoot())
	require.Greater(t, len(all), 15)
	read := func(args ...string) toldError {
		t.Helper()
		code, _, errs := tared(t, args...)
		require.Equal(t, 1, strings.Count(errs, "\n"), "%v: %s", args, errs)
		d := json.NewDecoder(strings.NewReader(errs))
		d.DisallowUnknownFields()
		var e toldError
		require.NoError(t, d.Decode(&e), "%v: %s", args, errs)
		assert.Equal(t, "error", e.Kind)
		assert.NotEmpty(t, e.Message, "%v", args)
		assert.Equal(t, code, e.Exit, "%v", args)
		return e
	}
	for _, args := range all {
		for _, more := range [][]string{{"--json", "--no-such-flag"}, {"--no-such-flag", "--json"}} {
			e := read(append(append([]string{}, args...), more...)...)
			assert.Equal(t, toldError{"error", "cli.no-flag", e.Message, strings.Join(args, " "), exitUsage}, e)
		}
	}
	recipe := writeFile(t, "tidewrack.txt", tidewrack)
	for _, c := range []struct {
		code string
		exit int
		args []string
	}{
		{"cli.there-is-no-journal-in", exitFailed, []string{"verify", "--data", t.TempDir()}},
		{"cli.recipe-there-is-no-such", exitFailed, []string{"plan", "no-such-file", "--base", "750g", "--scale", "name=bench,step=0.1g,max=2000g"}},
		{"plan.size", exitUsage, []string{"plan", recipe, "--base", "750", "--scale", "name=bench,step=0.1g,max=2000g"}},
		{"settings.no-file", exitConfig, []string{"settings", "--config", "/no/such/file.toml"}},
	} {
		e := read(append(c.args, "--json")...)
		assert.Equal(t, c.exit, e.Exit)
		assert.Equal(t, c.code, e.Code)
	}
}

// Files that a person writes are read as editors and spreadsheets save them: with a mark in
// front, with the ends of lines of Windows. Two bytes a letter are refused by name.
func TestFilesOfOtherEditors(t *testing.T) {
	t.Parallel()
	scale := "name=bench,step=0.1g,max=2000g"
	recipe := writeFile(t, "tidewrack.txt", tidewrack)
	for name, c := range map[string]struct {
		text string
		args func(file string) []string
	}{
		"recipe":    {tidewrack, func(f string) []string { return []string{"plan", f, "--base", "750g", "--scale", scale} }},
		"settings":  {"water = \"80%\"\n\n[[scale]]\nname = \"fine\"\nport = \"eye\"\nstep = \"0.01g\"\n", func(f string) []string { return []string{"settings", "--config", f} }},
		"formats":   {"[[format]]\nname = \"our-old-scale\"\nexpr = 'W +(?P<number>[0-9]+\\.[0-9]) (?P<unit>g)'\n", func(f string) []string { return []string{"formats", "--formats", f} }},
		"materials": {"{\"materials\": [\n]}\n", func(f string) []string { return []string{"materials", "Quartz", "--materials", f} }},
		"analyses": {"material;source;SiO2;Al2O3;LOI\nBall clay;invented, by the formula of kaolinite;46,5;39,5;14,0\nQuartz;ours, invented;99,1;0,3;0,1\n",
			func(f string) []string { return []string{"oxides", "--recipe", recipe, "--analyses", f} }},
		"curve": {"minutes;degrees\n0;20\n60;150\n", func(f string) []string {
			return []string{"fire", "none", "--curve", f, "--by", "Mara", "--data", t.TempDir()}
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			say := func(b []byte) (int, string) {
				f := filepath.Join(t.TempDir(), "file")
				require.NoError(t, os.WriteFile(f, b, 0o600))
				code, out, errs := tared(t, c.args(f)...)
				clean := strings.NewReplacer(f, "FILE")
				if name == "curve" { // there is no batch to which it belongs: the file was read before that was seen
					return code, errs[:min(len(errs), len("tared fire: there is no journal"))]
				}
				return code, clean.Replace(out + errs)
			}
			code, plain := say([]byte(c.text))
			if name != "curve" {
				require.Equal(t, exitDone, code, plain)
			}
			for how, b := range map[string]string{"a mark": "\ufeff" + c.text, "Windows": strings.ReplaceAll(c.text, "\n", "\r\n"), "both": "\ufeff" + strings.ReplaceAll(c.text, "\n", "\r\n")} {
				got, said := say([]byte(b))
				assert.Equal(t, code, got, how)
				assert.Equal(t, plain, said, how)
			}
			for how, mark := range map[string]string{"with a mark": "\ufeff", "without": ""} {
				var little, big []byte
				for _, u := range utf16.Encode([]rune(mark + c.text)) {
					little, big = append(little, byte(u), byte(u>>8)), append(big, byte(u>>8), byte(u))
				}
				for _, b := range [][]byte{little, big} {
					f := filepath.Join(t.TempDir(), "file")
					require.NoError(t, os.WriteFile(f, b, 0o600))
					code, _, errs := tared(t, c.args(f)...)
					assert.NotEqual(t, exitDone, code, how)
					assert.Contains(t, errs, "UTF-16", how)
					assert.Contains(t, errs, "Save it as UTF-8", how)
				}
			}
		})
	}
}

// However fast a demo runs, its record says when each thing was written: nothing in the future, and in
// order, also where a second demo goes on with the record of the first.
func TestADemoWritesNothingOfTheFuture(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "data")
	env := cleanEnv(t)
	began := time.Now()
	for range 2 {
		demo := endsWithUs(exec.Command(program, "demo", "--auto", "--speed", "20", "--listen", "127.0.0.1:0", "--data", dir, "--log", "error"))
		demo.Env = env
		said, err := demo.CombinedOutput()
		require.NoError(t, err, string(said))
	}
	now := time.Now()
	b, err := os.ReadFile(filepath.Join(dir, "journal.jsonl"))
	require.NoError(t, err)
	last := began.Round(0)
	lines := strings.Split(strings.TrimSpace(string(b)), "\n")
	require.Greater(t, len(lines), 50)
	for n, line := range lines {
		var l struct{ At time.Time }
		require.NoError(t, json.Unmarshal([]byte(line), &l))
		assert.False(t, l.At.Before(last), "line %d is of %v, and one before it of %v", n+1, l.At, last)
		assert.False(t, l.At.After(now), "line %d is of %v, and now is %v", n+1, l.At, now)
		last = l.At
	}
}
