package main

import (
	"archive/zip"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// findings runs a checkup and gives what it found, by what it is of.
func findings(t *testing.T, home string, code int, args ...string) map[string]finding {
	t.Helper()
	got := inHome(t, home, []string{"TARED_CONFIG=none"}, append([]string{"checkup", "--json"}, args...)...)
	require.Equal(t, code, got.code, got.err+got.out)
	all := map[string]finding{}
	for line := range strings.Lines(got.out) {
		var f finding
		require.NoError(t, json.Unmarshal([]byte(line), &f), line)
		if all[f.Of].How != isIll {
			all[f.Of] = f
		}
	}
	return all
}

// A checkup says what is wrong, each with its mend, and exits 1 where that keeps tared
// from its work; settings that are wrong do not keep it from looking at the rest.
func TestCheckup(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	all := findings(t, home, exitDone)
	for _, of := range []string{"program", "settings", "record", "disk", "clock", "page", "port"} {
		assert.NotEmpty(t, all[of].Says, of)
		assert.NotEqual(t, isIll, all[of].How, of)
	}

	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "journal.jsonl"), []byte("{\"seq\":1}\n"), 0o600))
	all = findings(t, home, exitFailed, "--data", dir)
	assert.Equal(t, isIll, all["record"].How)
	assert.Contains(t, all["record"].Mend, "tared verify")

	all = findings(t, home, exitFailed, "--scale", "name=bench,port=/dev/no-such-port")
	assert.Contains(t, all["scale"].Says, "bench")
	assert.Contains(t, all["scale"].Mend, "plug the scale in")

	bad := writeFile(t, "tared.toml", "listen = here\n")
	all = findings(t, home, exitFailed, "--config", bad)
	assert.Contains(t, all["settings"].Says, "line 1: listen")
	assert.NotEmpty(t, all["disk"].Says)
}

// The bundle holds what helps, and neither the name of the machine nor the home of its user.
func TestCheckupBundle(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	config := filepath.Join(home, "tared.toml")
	require.NoError(t, os.WriteFile(config, []byte("data = \""+home+"/record\"\n"), 0o600))
	file := filepath.Join(t.TempDir(), "b.zip")
	got := inHome(t, home, nil, "checkup", "--config", config, "--bundle", file)
	require.Equal(t, exitDone, got.code, got.err)
	z, err := zip.OpenReader(file)
	require.NoError(t, err)
	defer z.Close()
	var all strings.Builder
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		r, err := f.Open()
		require.NoError(t, err)
		_, err = io.Copy(&all, r)
		require.NoError(t, err)
	}
	assert.Contains(t, names, "found.json")
	assert.Contains(t, names, "tared.toml")
	assert.NotContains(t, all.String(), home)
	assert.Contains(t, all.String(), "~/record")
	if host, err := os.Hostname(); err == nil && len(host) > 3 {
		assert.NotContains(t, all.String(), host)
	}
	got = inHome(t, home, nil, "checkup", "--config", config, "--bundle", file)
	assert.Equal(t, exitFailed, got.code, "a file that is there stays")
}
