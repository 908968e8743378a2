package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// program is the built program, started by the tests as a person would.
var program string

// endsWithUs lets a program that a test starts end with it, where the system can do that.
var endsWithUs = func(cmd *exec.Cmd) *exec.Cmd { return cmd }

// raceFlag is -race where the test itself runs with it.
var raceFlag []string

func TestMain(m *testing.M) {
	// In the background of a shell Ctrl-C may be ignored. The programs that the tests
	// start would inherit that; what is listened to they do not.
	if signal.Ignored(os.Interrupt) {
		signal.Notify(make(chan os.Signal, 1), os.Interrupt)
	}
	dir, err := os.MkdirTemp("", "tared-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	// Nothing of this test is noted among the journals of this machine.
	_ = os.Setenv("LC_ALL", "C") // they expect English
	_ = os.Setenv("XDG_STATE_HOME", filepath.Join(dir, "state"))
	program = filepath.Join(dir, "tared")
	if runtime.GOOS == "windows" {
		program += ".exe"
	}
	args := append(append([]string{"build"}, raceFlag...), "-o", program, ".")
	if out, err := exec.Command("go", args...).CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "go %s: %v\n%s", strings.Join(args, " "), err, out)
		os.Exit(1)
	}
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

// patience is how long a test waits for what must come. Only a program that hangs
// meets it: a busy machine may need many times what a quiet one needs. The reason must
// be out before the limit of the whole package ends all in a heap of stacks.
func patience(t testing.TB) time.Duration { return min(3*time.Minute, time.Until(deadline(t))) }

// deadline is a little before the limit of the whole package.
func deadline(t testing.TB) time.Time {
	if t, ok := t.(*testing.T); ok {
		if end, limited := t.Deadline(); limited {
			return end.Add(-20 * time.Second)
		}
	}
	return time.Now().Add(time.Hour)
}

// ends waits until a program has come to its end by itself.
func ends(t testing.TB, cmd *exec.Cmd) error {
	t.Helper()
	limit := time.AfterFunc(patience(t), func() { _ = cmd.Process.Kill() })
	err := cmd.Wait()
	if !limit.Stop() {
		require.Fail(t, "it did not end", "%v", cmd.Args)
	}
	return err
}

// lastingAddress gives an address for a program that is started on it again and again:
// of the ports that the system gives nobody by itself, so none can be in its place in
// between.
func lastingAddress(t *testing.T) string {
	t.Helper()
	for range 100 {
		ln, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", 10000+rand.IntN(20000)))
		if err == nil {
			require.NoError(t, ln.Close())
			return ln.Addr().String()
		}
	}
	require.Fail(t, "no port is free from 10000 to 29999")
	return ""
}

// outcome is what one run of the program left.
type outcome struct {
	code     int
	out, err string
}

// runTared runs the program to its end.
func runTared(t *testing.T, stdin string, args ...string) outcome {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience(t))
	defer cancel()
	cmd := endsWithUs(exec.CommandContext(ctx, program, args...))
	cmd.Env = cleanEnv(t)
	var out, errs bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(stdin), &out, &errs
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		require.NoError(t, err, "tared %s", strings.Join(args, " "))
	}
	require.NoError(t, ctx.Err(), "tared %s hangs:\n%s%s", strings.Join(args, " "), out.String(), errs.String())
	return outcome{cmd.ProcessState.ExitCode(), out.String(), errs.String()}
}

// alone keeps the journals of this machine and of other tests from the commands that a test
// runs in its own process.
func alone(t *testing.T) {
	t.Helper()
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	t.Setenv("XDG_STATE_HOME", t.TempDir())
}

// cleanEnv keeps the user's own settings and records out of the tests.
func cleanEnv(t *testing.T) []string {
	t.Helper()
	var env []string
	for _, e := range os.Environ() {
		if !strings.HasPrefix(e, "TARED_") && !strings.HasPrefix(e, "XDG_DATA_HOME=") && !strings.HasPrefix(e, "XDG_STATE_HOME=") {
			env = append(env, e)
		}
	}
	// The programs of one test know of each other's journals.
	test, _, _ := strings.Cut(t.Name(), "/")
	return append(env, "TARED_CONFIG=none", "XDG_DATA_HOME="+t.TempDir(), "XDG_STATE_HOME="+filepath.Join(filepath.Dir(program), "state", test))
}

// writeFile puts text into a file of the test and gives its path.
func writeFile(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	return path
}

// tidewrack is an invented recipe.
const tidewrack = `# Tidewrack, satin, cone 6 oxidation
# Invented for tests: do not fire it.
Nepheline syenite   41
Quartz              24
Whiting             17
Ball clay           12
Zinc oxide           6
+ Tin oxide          4
+ Copper carbonate   1.2
`

func TestUsageErrorsSayWhatToDo(t *testing.T) {
	alone(t)
	recipe := writeFile(t, "tidewrack.txt", tidewrack)
	bench := "name=bench,port=/dev/null,step=0.1g,max=2000g"
	for _, c := range []struct {
		args []string
		code int
		says string // on standard error
	}{
		{[]string{}, exitUsage, "Which command?"},
		{[]string{"wiegh"}, exitUsage, `"wiegh" is not a command`},
		{[]string{"help", "wiegh"}, exitUsage, `"wiegh" is neither a command nor a topic`},
		{[]string{"--loud"}, exitUsage, "--loud is not a flag"},
		{[]string{"decode", "--format"}, exitUsage, "needs a value"},
		{[]string{"decode", "--format", "morse"}, exitUsage, "'tared formats' lists them"},
		{[]string{"decode", "--unit", "stone"}, exitUsage, "use g, kg"},
		{[]string{"decode", "capture.bin"}, exitUsage, "one argument too many"},
		{[]string{"formats", "--xml"}, exitUsage, "is not a flag"},
		{[]string{"verify", "no-such-file"}, exitFailed, "no-such-file"},
		{[]string{"verify", recipe}, exitFailed, "This is no record of tared"},
		{[]string{"import", recipe, "--data", t.TempDir()}, exitFailed, "This is no record of tared"},
		{[]string{"record", "a", "b", "--data", t.TempDir()}, exitFailed, "there is no journal"},
		{[]string{"plan"}, exitUsage, "RECIPE is missing"},
		{[]string{"plan", recipe, "--scale", bench}, exitUsage, "the size of the batch is missing"},
		{[]string{"plan", recipe, "--base", "750", "--scale", bench}, exitUsage, "no unit"},
		{[]string{"plan", recipe, "--base", "1,234g", "--scale", bench}, exitUsage, "two ways"},
		{[]string{"plan", recipe, "--base", "750g", "--dry", "800g", "--scale", bench}, exitUsage, "one of them"},
		{[]string{"plan", recipe, "--wet", "2l", "--scale", bench}, exitUsage, "2l at 1.45"},
		{[]string{"plan", recipe, "--base", "750g"}, exitUsage, "a scale is missing"},
		{[]string{"plan", recipe, "--base", "750g", "--scale", "name=bench,port=/dev/null"}, exitUsage, "step is missing"},
		{[]string{"plan", recipe, "--base", "750g", "--scale", "bench"}, exitUsage, "--scale"},
		{[]string{"plan", recipe, "--base", "750g", "--scale", bench + ",colour=red"}, exitUsage, "colour"},
		{[]string{"plan", recipe, "--base", "750g", "--scale", bench, "--scale", bench}, exitUsage, `two scales are called "bench"`},
		{[]string{"plan", recipe, "--base", "750g", "--scale", bench, "--allow", "base"}, exitUsage, "base=1%"},
		{[]string{"plan", recipe, "--base", "750g", "--scale", bench, "--allow", "base=1"}, exitUsage, "base"},
		{[]string{"plan", recipe, "--base", "750g", "--scale", bench, "--allow", "sugar=1%"}, exitUsage, "--allow: Tolerance: sugar"},
		{[]string{"plan", "no-such-file", "--base", "750g", "--scale", bench}, exitFailed, "there is no such file"},
		{[]string{"plan", writeFile(t, "bad.txt", "Quartz\n"), "--base", "750g", "--scale", bench}, exitFailed, "Quartz"},
		{[]string{"weigh"}, exitUsage, "RECIPE is missing"},
		{[]string{"weigh", "-", "--base", "750g", "--scale", bench}, exitUsage, "give the recipe as a file"},
		{[]string{"weigh", recipe, "--base", "750g"}, exitUsage, "a scale is missing"},
		{[]string{"weigh", recipe, "--base", "750g", "--scale", bench, "--log", "loud"}, exitUsage, "--log"},
		{[]string{"settings", "--listen", "here"}, exitUsage, "127.0.0.1:7410"},
		{[]string{"serve", "--listen", "here", "--scale", bench}, exitUsage, "127.0.0.1:7410"},
		{[]string{"serve", "--config", "/no/such/file.toml"}, exitConfig, "/no/such/file.toml"},
		{[]string{"serve", "--config", writeFile(t, "tared.toml", "colour = \"blue\"\n")}, exitConfig, "line 1"},
		{[]string{"demo", "--speed", "fast"}, exitUsage, `--speed "fast": give a number`},
		{[]string{"import", "no-such-file", "--data", t.TempDir()}, exitFailed, "no-such-file: there is no such file"},
		{[]string{"stock", "--add", "Quartz", "--amount", "25kg", "--data", t.TempDir()}, exitUsage, "add --by NAME"},
		{[]string{"demo", "--speed", "0"}, exitUsage, "--speed"},
		{[]string{"scales", ""}, exitUsage, "an empty word"},
		{[]string{"scales", "--watch", "--save", "x"}, exitUsage, "--save"},
		{[]string{"verify", "--data", t.TempDir()}, exitFailed, "there is no journal"},
		{[]string{"record", "--data", t.TempDir()}, exitFailed, "there is no journal"},
	} {
		t.Run(strings.Join(c.args, " "), func(t *testing.T) {
			code, out, errs := tared(t, c.args...)
			assert.Equal(t, c.code, code, errs)
			assert.Contains(t, errs, c.says)
			assert.Contains(t, errs, "tared", "an error says which command it comes from")
			assert.Empty(t, out, "an error goes to standard error")
		})
	}
}

func TestScalesSaysWhatStandsInTheWay(t *testing.T) {
	got := runTared(t, "", "scales", "/dev/no-such-port")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.out, "there is no such port")
	assert.Contains(t, got.out, "plug the scale in")
	assert.Contains(t, got.err, "no scale was understood on /dev/no-such-port")
}

func TestEveryCommandShowsAnExample(t *testing.T) {
	t.Parallel()
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			assert.NotEmpty(t, sub.Example, "%s --help has no example", sub.CommandPath())
			assert.Contains(t, sub.Example, sub.CommandPath())
			walk(sub)
		}
	}
	root := newRoot()
	walk(root)
	files, err := fs.Glob(helpTexts, "help/*.txt")
	require.NoError(t, err)
	assert.Len(t, files, len(commands())+1, "each command has its file of help, and each file its command")
	got := runTared(t, "", "weigh", "--help")
	assert.Equal(t, exitDone, got.code)
	assert.Contains(t, got.out, "Examples:")
}

// Help fits a terminal, tells the commands in the order of the work, and speaks of no type
// of a library.
func TestHelpFitsATerminal(t *testing.T) {
	root := newRoot()
	for _, cmd := range append(root.Commands(), root) {
		if cmd.Name() == "calc" {
			continue // it lists questions, which are whole sentences of the page too
		}
		var out strings.Builder
		cmd.SetOut(&out)
		cmd.InitDefaultHelpFlag()
		require.NoError(t, cmd.Help())
		assert.NotContains(t, out.String(), "stringArray", cmd.CommandPath())
		for line := range strings.Lines(out.String()) {
			assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), 100, "%s: %s", cmd.CommandPath(), line)
		}
		if cmd == root {
			assert.Less(t, strings.Index(out.String(), "\n  demo "), strings.Index(out.String(), "\n  backup "))
		}
	}
}
