package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a machine needs is printed piece by piece, or written where it belongs; settings
// that are there stay.
func TestSetup(t *testing.T) {
	t.Parallel()
	got := runTared(t, "", "setup")
	require.Equal(t, exitDone, got.code, got.err)
	for _, name := range []string{"unit", "rules", "modules", "settings", "man", "launchd", "windows"} {
		assert.Contains(t, got.out, name)
	}
	got = runTared(t, "", "setup", "unit")
	shipped, err := setupFiles.ReadFile("setup/tared.service")
	require.NoError(t, err)
	assert.Equal(t, string(shipped), got.out)
	got = runTared(t, "", "setup", "horse")
	assert.Equal(t, exitUsage, got.code)
	assert.Contains(t, got.err, "no piece “horse”")

	root := t.TempDir()
	own := filepath.Join(root, "etc/tared/tared.toml")
	require.NoError(t, os.MkdirAll(filepath.Dir(own), 0o755))
	require.NoError(t, os.WriteFile(own, []byte("# mine\n"), 0o600))
	got = runTared(t, "", "setup", "--write", "--root", root, "unit", "rules", "settings", "man-weigh")
	require.Equal(t, exitDone, got.code, got.err)
	b, err := os.ReadFile(own)
	require.NoError(t, err)
	assert.Equal(t, "# mine\n", string(b))
	unit, err := os.ReadFile(filepath.Join(root, "etc/systemd/system/tared.service"))
	require.NoError(t, err)
	assert.Contains(t, string(unit), "ExecStart="+program+" serve", "the service starts the program that wrote it")
	assert.FileExists(t, filepath.Join(root, "usr/local/share/man/man1/tared-weigh.1"))
}

// The files are what they say: the settings are read without a fault, and the rules let no
// device out of root's hands that is not named by both of its numbers.
func TestSetupFilesAreSound(t *testing.T) {
	b, err := setupFiles.ReadFile("setup/tared.toml")
	require.NoError(t, err)
	_, err = parseConfig("tared.toml", string(b))
	assert.NoError(t, err)
	rules, err := setupFiles.ReadFile("setup/70-tared.rules")
	require.NoError(t, err)
	named := regexp.MustCompile(`^ATTRS\{idVendor\}=="[0-9a-f]{4}", ATTRS\{idProduct\}=="[0-9a-f]{4}", `)
	for line := range strings.Lines(string(rules)) {
		if strings.Contains(line, "MODE=") || strings.Contains(line, "GROUP=") || strings.Contains(line, "ENV{") {
			assert.Regexp(t, named, line)
		}
	}
	var files []string
	require.NoError(t, fs.WalkDir(setupFiles, "setup", func(path string, e fs.DirEntry, err error) error {
		if !e.IsDir() {
			files = append(files, path)
		}
		return err
	}))
	root, made := newRoot(), map[string]bool{}
	for _, p := range pieces() {
		words, err := p.make(root)
		require.NoError(t, err, p.name)
		made[words] = true
	}
	for _, f := range files {
		b, err := setupFiles.ReadFile(f)
		require.NoError(t, err)
		assert.True(t, made[string(b)], "%s is a piece", f)
	}
}

// systemd itself judges how much the service may do (systemd-analyze(1): 0 is nothing, 10
// all; what is asked for is 2 at most).
func TestTheUnitMayDoLittle(t *testing.T) {
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		t.Skip("systemd-analyze is not here: ", err)
	}
	out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--threshold=20", "setup/tared.service").CombinedOutput()
	assert.NoError(t, err, "%s", out)
}

// Each command has its man page, with the sentences of its help, and nothing in it is a
// request that was not meant.
func TestManPages(t *testing.T) {
	root := newRoot()
	known := regexp.MustCompile(`^\.(TH|SH|PP|TP|nf|fi|B|BR)\b`)
	for _, cmd := range append(root.Commands(), root) {
		page := manPage(cmd, edition{Version: "v1.2.3", Date: "2026-12-01T10:18:46Z"})
		for line := range strings.Lines(page) {
			if strings.HasPrefix(line, ".") || strings.HasPrefix(line, "'") {
				assert.Regexp(t, known, line, cmd.CommandPath())
			}
		}
		assert.Contains(t, page, `1 "2026-12-01" "tared v1.2.3"`)
		assert.Contains(t, page, roff(cmd.Short))
	}
	page := manPage(root, edition{})
	assert.Contains(t, page, ".B weigh\n")
	if _, err := exec.LookPath("man"); err != nil {
		return
	}
	for _, name := range []string{"serve", "settings", "weigh"} {
		cmd, _, err := root.Find([]string{name})
		require.NoError(t, err)
		file := writeFile(t, name+".1", manPage(cmd, thisEdition()))
		out, err := exec.Command("man", "--warnings", "-l", file).CombinedOutput()
		assert.NoError(t, err)
		assert.NotContains(t, string(out), "warning:")
	}
}

// The completion of shells offers values: formats, marks of the record, pieces.
func TestCompletionOffersValues(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"decode", "--format", "header-"}, "header-comma\t"},
		{[]string{"weigh", "--accept", ""}, "guarded"},
		{[]string{"setup", ""}, "unit"},
		{[]string{"materials", "Nep"}, "Nepheline"},
	} {
		got := runTared(t, "", append([]string{"__complete"}, c.args...)...)
		assert.Contains(t, got.out, c.want, "%v", c.args)
	}
	dir := t.TempDir()
	got := runTared(t, "yes Mara\nabandon the wrong bag\n", "weigh", writeFile(t, "r.txt", "Quartz 60\nWhiting 40\n"), "--base", "100g", "--data", dir, "--scale", "name=fine,port=eye,step=0.1g,max=2000g")
	list := runTared(t, "", "record", "--data", dir, "--json")
	require.Equal(t, exitDone, list.code, got.err+list.err)
	mark := regexp.MustCompile(`"mark":"([^"]+)"`).FindStringSubmatch(list.out)
	require.NotNil(t, mark, list.out)
	got = runTared(t, "", "__complete", "label", "--data", dir, "")
	assert.Contains(t, got.out, mark[1])
}
