//go:build unix

package main

import (
	"context"
	"errors"
	"net"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// manager is a socket on which a service manager would hear its services.
func manager(t *testing.T) (path string, hear func() string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "notify")
	c, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	require.NoError(t, err)
	t.Cleanup(func() { _ = c.Close() })
	return path, func() string {
		b := make([]byte, 4096)
		require.NoError(t, c.SetReadDeadline(time.Now().Add(patience(t))))
		n, err := c.Read(b)
		require.NoError(t, err)
		return string(b[:n])
	}
}

// The daemon tells a service manager when its page is up, that it lives, and that it ends.
func TestServiceManagerIsTold(t *testing.T) {
	t.Parallel()
	path, hear := manager(t)
	cmd := endsWithUs(exec.Command(program, "serve", "--listen", "127.0.0.1:0", "--data", t.TempDir(), "--log", "error"))
	cmd.Env = append(cleanEnv(t), "NOTIFY_SOCKET="+path, "WATCHDOG_USEC="+strconv.Itoa(int((200*time.Millisecond).Microseconds())))
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	up := hear()
	for up == "WATCHDOG=1" { // it lives before its page does
		up = hear()
	}
	assert.Contains(t, up, "READY=1\nSTATUS=The page is at http://127.0.0.1:")
	for range 3 {
		assert.Equal(t, "WATCHDOG=1", hear())
	}
	require.NoError(t, cmd.Process.Signal(syscall.SIGTERM))
	said := hear()
	for said == "WATCHDOG=1" {
		said = hear()
	}
	assert.Equal(t, "STOPPING=1", said)
	require.NoError(t, ends(t, cmd))
}

// A bench that does not answer, for its goroutine or its disk hangs, is not called alive.
func TestABenchThatHangsIsNotCalledAlive(t *testing.T) {
	path, hear := manager(t)
	t.Setenv("NOTIFY_SOCKET", path)
	ctx, stop := context.WithCancel(t.Context())
	asked := 0
	keepAlive(ctx, 20*time.Millisecond, func(wait context.Context) error {
		if asked++; asked < 4 {
			<-wait.Done() // as Bench.Alive does while the bench hangs
			return wait.Err()
		}
		stop()
		_ = notify("the end")
		return errors.New("over")
	}, zerolog.Nop())
	assert.Equal(t, "the end", hear(), "nothing was said before")
}
