//go:build unix

package main

import (
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/scale/sim"
)

// screen is what a person sees of a terminal: its lines, and where the cursor is. It knows
// what our program sends: text, CR, LF, and the moves and erasures of ECMA-48.
type screen struct {
	mu       sync.Mutex
	lines    [][]rune
	row, col int
	esc      []byte
	frames   []string // the line with the cursor, after each piece that came
}

func (s *screen) hear(b []byte) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, r := range string(b) {
		s.put(r)
	}
	s.frames = append(s.frames, s.at())
}

func (s *screen) put(r rune) {
	for len(s.lines) <= s.row {
		s.lines = append(s.lines, nil)
	}
	switch {
	case s.esc != nil:
		s.esc = append(s.esc, byte(r))
		if r < '@' || r > '~' || r == '[' {
			return
		}
		n := 0
		for _, d := range s.esc[1 : len(s.esc)-1] {
			n = n*10 + int(d-'0')
		}
		switch r {
		case 'A':
			s.row -= max(1, n)
		case 'D':
			s.col -= max(1, n)
		case 'C':
			s.col += max(1, n)
		case 'K':
			s.lines[s.row] = s.lines[s.row][:min(s.col, len(s.lines[s.row]))]
		}
		s.esc = nil
	case r == 0x1b:
		s.esc = []byte{}
	case r == '\r':
		s.col = 0
	case r == '\n':
		s.row++
	default:
		line := s.lines[s.row]
		for len(line) <= s.col {
			line = append(line, ' ')
		}
		line[s.col] = r
		s.lines[s.row] = line
		s.col++
	}
}

func (s *screen) at() string {
	if s.row >= len(s.lines) {
		return ""
	}
	return string(s.lines[s.row])
}

func (s *screen) all() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var b strings.Builder
	for _, l := range s.lines {
		b.WriteString(strings.TrimRight(string(l), " ") + "\n")
	}
	return b.String()
}

func (s *screen) since(n int) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string{}, s.frames[n:]...)
}

// onTerminal starts the program at a pseudo-terminal of so many rows.
func onTerminal(t *testing.T, rows uint16, args ...string) (*exec.Cmd, *os.File) {
	t.Helper()
	cmd := endsWithUs(exec.Command(program, args...))
	cmd.Env = cleanEnv(t)
	tty, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: rows, Cols: 200})
	require.NoError(t, err)
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = tty.Close() })
	return cmd, tty
}

// atTerminal is the program at a terminal that somebody looks at: until waits for words on its
// screen, key types.
func atTerminal(t *testing.T, args ...string) (cmd *exec.Cmd, seen *screen, until, key func(string)) {
	t.Helper()
	cmd, tty := onTerminal(t, 50, args...)
	seen = &screen{}
	go func() {
		b := make([]byte, 4096)
		for {
			n, err := tty.Read(b)
			if err != nil {
				return
			}
			seen.hear(b[:n])
		}
	}()
	until = func(what string) {
		t.Helper()
		require.Eventually(t, func() bool { return strings.Contains(seen.all(), what) }, patience(t), 20*time.Millisecond, "%q does not come:\n%s", what, seen.all())
	}
	key = func(keys string) {
		t.Helper()
		_, err := tty.WriteString(keys)
		require.NoError(t, err)
	}
	return cmd, seen, until, key
}

// At a terminal the weigh sheet comes first, and what is being typed stands whole in each
// picture of the screen while the weight moves and the bench speaks.
func TestWhatIsTypedStaysWhole(t *testing.T) {
	t.Parallel()
	r := newRig(t, "# Grotto, invented for tests\nQuartz 50\nWhiting 30\nBall clay 20\n", "100g")
	for i, a := range r.args {
		if a == "--json" {
			r.args = append(r.args[:i:i], r.args[i+1:]...)
			break
		}
	}
	cmd, seen, until, key := atTerminal(t, r.args...)
	until("> yes NAME")
	sheet, asks := strings.Index(seen.all(), "100 g of base"), strings.Index(seen.all(), "Mask on?")
	assert.Greater(t, sheet, 0, "the sheet:\n%s", seen.all())
	assert.Less(t, sheet, asks, "the sheet comes first:\n%s", seen.all())

	key("\r") // the first answer, by the name of --by
	until("Empty container on the bench scale")
	r.hand(sim.Put)
	until("Quartz: 50.0 g")
	until("50.0 g missing")
	key("note the lid was off")
	until("> note the lid was off")
	from := len(seen.since(0))
	r.pour("Quartz", 50)
	until("Good: lift the container")
	r.hand(sim.Lift)
	until("Tip it")
	for _, line := range seen.since(from) {
		assert.Regexp(t, `> note the lid was off *$`, line)
	}
	assert.Greater(t, len(seen.since(from)), 10, "the number moved")
	key("\r")
	require.Eventually(t, func() bool {
		b, err := os.ReadFile(r.dir + "/journal.jsonl")
		return err == nil && strings.Contains(string(b), `"the lid was off"`)
	}, patience(t), 20*time.Millisecond, "the note is not recorded:\n%s", seen.all())

	key("\x03")
	require.Error(t, ends(t, cmd))
	assert.Equal(t, exitFailed, cmd.ProcessState.ExitCode())
	until("interrupted")
}
