package journal

import (
	"bufio"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var killRounds = flag.Int("kills", 30, "how often the writing process is killed")

// TestMain lets this test program be the writer that is killed.
func TestMain(m *testing.M) {
	if dir := os.Getenv("JOURNAL_TEST_WRITER"); dir != "" {
		writeUntilKilled(dir)
	}
	os.Exit(m.Run())
}

// writeUntilKilled records inputs of one to three facts and says on stdout which
// seq has been acknowledged.
func writeUntilKilled(dir string) {
	j, _, err := Open(dir, Options{})
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	fmt.Println("ready", j.Len())
	for {
		es := make([]Entry, 1+j.Len()%3)
		for i := range es {
			es[i] = Entry{time.Now(), "portion", "T1", "scale", pour{"Quartz", []string{strconv.FormatUint(j.Len(), 10)}}}
		}
		if _, err := j.AppendAll(es...); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		fmt.Println("done", j.Len())
	}
}

// A killed writer leaves every line that it acknowledged, a whole chain, and no
// lock.
func TestKill(t *testing.T) {
	self, err := os.Executable()
	require.NoError(t, err)
	dir := t.TempDir()
	acknowledged := uint64(0)
	for round := range *killRounds {
		c := exec.Command(self)
		c.Env = append(os.Environ(), "JOURNAL_TEST_WRITER="+dir)
		out, err := c.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, c.Start())
		s := bufio.NewScanner(out)
		require.True(t, s.Scan())
		require.True(t, strings.HasPrefix(s.Text(), "ready "), s.Text())
		if round == 0 {
			_, _, err := Open(dir, Options{})
			require.ErrorIs(t, err, ErrLocked)
			assert.Contains(t, err.Error(), fmt.Sprintf("process %d", c.Process.Pid), "the error names the other process")
		}
		// The moment is chosen by acknowledged inputs and a random spin, not by a clock.
		stop, killed := rand.IntN(20), false
		for n := 0; s.Scan(); n++ {
			word, num, _ := strings.Cut(s.Text(), " ")
			seq, err := strconv.ParseUint(num, 10, 64)
			require.True(t, word == "done" && err == nil, s.Text())
			acknowledged = max(acknowledged, seq)
			if n >= stop && !killed {
				for range rand.IntN(1 << 16) { // somewhere inside a write or sync
					_ = n
				}
				require.NoError(t, c.Process.Kill())
				killed = true
			}
		}
		require.Error(t, c.Wait())
		require.True(t, killed)

		rep, err := Read(dir, nil)
		require.NoError(t, err, "round %d", round)
		require.GreaterOrEqual(t, rep.Lines, acknowledged)
		j, opened, err := Open(dir, Options{})
		require.NoError(t, err)
		require.Equal(t, rep.Lines, opened.Lines)
		require.NoError(t, j.Close())
	}
	assert.Positive(t, acknowledged)
}
