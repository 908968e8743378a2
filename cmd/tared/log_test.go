package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The journal of systemd gets lines whose priority it can filter by (sd-daemon(3)), and
// nothing of another form among them. A socket stands in for it, as it is one.
func TestTheJournalOfSystemdGetsPriorities(t *testing.T) {
	if _, err := os.Stat("/proc/self/fd"); err != nil {
		t.Skip("systemd is for Linux")
	}
	path := filepath.Join(t.TempDir(), "stdout")
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: path, Net: "unix"})
	require.NoError(t, err)
	defer func() { _ = l.Close() }()
	c, err := net.DialUnix("unix", nil, &net.UnixAddr{Name: path, Net: "unix"})
	require.NoError(t, err)
	f, err := c.File()
	require.NoError(t, err)
	require.NoError(t, c.Close())
	got, err := l.Accept()
	require.NoError(t, err)
	defer func() { _ = got.Close() }()

	t.Setenv("JOURNAL_STREAM", "8:1")
	assert.False(t, toJournal(f), "that is another stream: standard error was led elsewhere")
	is, err := os.Readlink(fmt.Sprintf("/proc/self/fd/%d", f.Fd()))
	require.NoError(t, err)
	t.Setenv("JOURNAL_STREAM", "8:"+strings.TrimSuffix(strings.TrimPrefix(is, "socket:["), "]"))
	require.True(t, toJournal(f))

	log := newLog(f, zerolog.DebugLevel)
	log.Debug().Str("kind", "portion").Msg("recorded")
	log.Info().Msg("serving")
	log.Warn().Str("why", "the port\nis gone").Msg("scale")
	log.Error().Msg("the journal cannot be written")
	assert.Equal(t, exitUsage, run(t.Context(), []string{"mix"}, strings.NewReader(""), f, f))
	require.NoError(t, f.Close())
	b := make([]byte, 4096)
	n := 0
	for err == nil {
		var k int
		k, err = got.Read(b[n:])
		n += k
	}
	lines := strings.Split(strings.TrimSpace(string(b[:n])), "\n")
	require.GreaterOrEqual(t, len(lines), 5)
	for i, want := range []string{"<7>recorded kind=portion", "<6>serving", `<4>scale why="the port\nis gone"`, "<3>the journal cannot be written", `<3>tared: "mix" is not a command`} {
		assert.Equal(t, want, lines[i])
	}
}
