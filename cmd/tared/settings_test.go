package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inHome runs the program with nothing in its environment but a home and what is named.
func inHome(t *testing.T, home string, env []string, args ...string) outcome {
	t.Helper()
	cmd := endsWithUs(exec.CommandContext(t.Context(), program, args...))
	cmd.Env = append([]string{"HOME=" + home, "PATH=" + os.Getenv("PATH")}, env...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	require.NotNil(t, cmd.ProcessState, err)
	return outcome{cmd.ProcessState.ExitCode(), out.String(), errs.String()}
}

func settled(t *testing.T, got outcome) map[string]setting {
	t.Helper()
	require.Equal(t, exitDone, got.code, got.err)
	var r settingsReport
	require.NoError(t, json.Unmarshal([]byte(got.out), &r))
	all := map[string]setting{"file": {Value: r.File}}
	for _, s := range r.Settings {
		all[s.Key] = s
	}
	return all
}

// Flags go before the environment, that before the file, and that before what is usual;
// each value says from where it came.
func TestSettingsSayWhereTheyComeFrom(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	at := filepath.Join(home, ".config", "tared", configName)
	got := settled(t, inHome(t, home, nil, "settings", "--json", "--config", "none"))
	assert.Equal(t, setting{"listen", "127.0.0.1:7410", ""}, got["listen"])
	assert.Equal(t, setting{"data", filepath.Join(home, ".local/share/tared"), ""}, got["data"])

	require.NoError(t, os.MkdirAll(filepath.Dir(at), 0o755))
	require.NoError(t, os.WriteFile(at, []byte("\ufeffwater = \"80%\"\nlisten = \"127.0.0.1:1\"\ndata = \"/srv/a\"\nnames = [\"glaze.local\"]\n[[scale]]\nname = \"fine\"\nport = \"eye\"\nstep = \"0.01g\"\n"), 0o600))
	env := []string{"TARED_LISTEN=127.0.0.1:2", "TARED_DATA=/srv/b", "TARED_ACCEPT=guarded"}
	got = settled(t, inHome(t, home, env, "settings", "--json", "--data", "/srv/c", "--host", "bench"))
	assert.Equal(t, at, got["file"].Value)
	assert.Equal(t, setting{"water", "80%", at + ":1"}, got["water"], "a mark that an editor put in front is no key")
	assert.Equal(t, setting{"listen", "127.0.0.1:2", "TARED_LISTEN"}, got["listen"])
	assert.Equal(t, setting{"data", "/srv/c", "--data"}, got["data"])
	assert.Equal(t, setting{"accept", "guarded", "TARED_ACCEPT"}, got["accept"])
	assert.Equal(t, setting{"names", "bench, glaze.local", "--host, " + at + ":4"}, got["names"])
	assert.Equal(t, setting{"scale", "name=fine,port=eye,step=0.01g", at + ":5"}, got["scale"])
	got = settled(t, inHome(t, home, nil, "settings", "--json", "--scale", "name=wall,port=/dev/x"))
	assert.Equal(t, setting{"scale", "name=wall,port=/dev/x", "--scale"}, got["scale"])

	words := inHome(t, home, env, "settings")
	assert.Contains(t, words.out, "from TARED_LISTEN")
	assert.Contains(t, words.out, "from "+at+":1")
}

// The file of the user goes before that of the machine; one that is named, before both.
func TestWhichFileOfSettings(t *testing.T) {
	t.Parallel()
	home, xdg := t.TempDir(), t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(xdg, "tared"), 0o755))
	at := filepath.Join(xdg, "tared", configName)
	require.NoError(t, os.WriteFile(at, []byte("water = \"70%\"\n"), 0o600))
	other := writeFile(t, "other.toml", "water = \"60%\"\n")
	third := writeFile(t, "third.toml", "water = \"50%\"\n")
	env := []string{"XDG_CONFIG_HOME=" + xdg}
	assert.Equal(t, at, settled(t, inHome(t, home, env, "settings", "--json"))["file"].Value)
	env = append(env, "TARED_CONFIG="+other)
	assert.Equal(t, "60%", settled(t, inHome(t, home, env, "settings", "--json"))["water"].Value)
	assert.Equal(t, "50%", settled(t, inHome(t, home, env, "settings", "--json", "--config", third))["water"].Value)
	assert.Equal(t, "", settled(t, inHome(t, home, env, "settings", "--json", "--config", "none"))["water"].Value)
	got := inHome(t, home, []string{"TARED_CONFIG=/no/such.toml"}, "record")
	assert.Equal(t, exitConfig, got.code)
	assert.Contains(t, got.err, "/no/such.toml: there is no such file")
	assert.Equal(t, "/var/lib/x", settled(t, inHome(t, home, []string{"STATE_DIRECTORY=/var/lib/x:/var/lib/y"}, "settings", "--json", "--config", "none"))["data"].Value)
}

// What is wrong in the environment is blamed on it, and a scale that is described wrongly
// stands in the way of no other.
func TestWrongSettingsAreNamed(t *testing.T) {
	t.Parallel()
	home := t.TempDir()
	for _, c := range []struct{ env, says string }{
		{"TARED_WATER=wet", "TARED_WATER="},
		{"TARED_LISTEN=here", `TARED_LISTEN="here": not an address`},
		{"TARED_PAIR=perhaps", "TARED_PAIR: “perhaps” is neither true nor false"},
	} {
		got := inHome(t, home, []string{c.env}, "settings", "--config", "none")
		assert.Equal(t, exitConfig, got.code, c.env)
		assert.Contains(t, got.err, c.says)
	}
	got := inHome(t, home, nil, "record", "--config", "none", "--data", "")
	assert.Equal(t, exitUsage, got.code)
	assert.Contains(t, got.err, `--data ""`)

	file := writeFile(t, "tared.toml", "[[scale]]\nname=\"a\"\nport=\"eye\"\nstep=\"0.1\"\n[[scale]]\nname=\"b\"\nport=\"eye\"\nstep=\"0.1g\"\n[[scale]]\nname=\"b\"\nport=\"/dev/x\"\n")
	got = inHome(t, home, nil, "settings", "--config", file)
	assert.Equal(t, exitConfig, got.code)
	assert.Contains(t, got.err, "the scale in line 1")
	assert.Contains(t, got.err, `two scales are called "b"`)
	assert.Contains(t, got.out, "name=b,port=eye,step=0.1g", "what is right is shown all the same")
	got = inHome(t, home, nil, "weigh", writeFile(t, "r.txt", tidewrack), "--base", "100g", "--config", file)
	assert.Equal(t, exitConfig, got.code, "a batch is weighed on the scales that were meant, or not at all")
	got = inHome(t, home, nil, "record", "--config", file, "--data", t.TempDir())
	assert.Equal(t, exitFailed, got.code, "a command that needs no scale does not mind: %s", got.err)
}

// In weigh the word help tells what can be said, and Enter alone is the first answer. What
// was recorded can be backed up, and the copy checked without restoring it.
func TestEnterIsTheFirstAnswer(t *testing.T) {
	t.Parallel()
	dir, file := t.TempDir(), filepath.Join(t.TempDir(), "backup.jsonl")
	got := runTared(t, "help\n\nabandon the wrong bag\n", "weigh", writeFile(t, "r.txt", "Quartz 60\nWhiting 40\n"), "--base", "100g", "--by", "Mara", "--data", dir, "--scale", "name=fine,port=eye,step=0.1g,max=2000g")
	assert.Contains(t, got.out, "Enter alone is the first answer", got.err)
	lines, err := os.ReadFile(filepath.Join(dir, "journal.jsonl"))
	require.NoError(t, err)
	assert.Contains(t, string(lines), `"kind":"reminded"`)

	got = runTared(t, "", "backup", file, "--data", dir)
	require.Equal(t, exitDone, got.code, got.err)
	got = runTared(t, "", "verify", file)
	require.Equal(t, exitDone, got.code, got.err)
	assert.Contains(t, got.out, "all intact")
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	b[len(b)/2] ^= 1
	require.NoError(t, os.WriteFile(file, b, 0o600))
	got = runTared(t, "", "verify", file)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.err, "damaged")
}
