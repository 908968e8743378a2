package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/session"
	"tared/session/sheet"
	"tared/web"
)

// stopReading opens a page that takes the first view and then nothing more.
func stopReading(t testing.TB, addr string) net.Conn {
	t.Helper()
	conn, err := net.Dial("tcp", addr)
	require.NoError(t, err)
	_, err = fmt.Fprintf(conn, "GET /live HTTP/1.1\r\nHost: %s\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"+
		"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n", addr)
	require.NoError(t, err)
	res, err := http.ReadResponse(bufio.NewReaderSize(conn, 16), nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusSwitchingProtocols, res.StatusCode)
	return conn
}

// queued is what the kernel holds for a connection of this machine with itself, on
// both sides: bytes that were sent and not read.
func queued(t *testing.T, conn net.Conn) (bytes int) {
	t.Helper()
	table, err := os.ReadFile("/proc/net/tcp")
	require.NoError(t, err)
	end := func(a net.Addr) string { return fmt.Sprintf(":%04X", a.(*net.TCPAddr).Port) }
	here, there := end(conn.LocalAddr()), end(conn.RemoteAddr())
	for l := range strings.Lines(string(table)) {
		f := strings.Fields(l) // sl local remote state tx:rx … (proc(5))
		if len(f) < 5 || !(strings.HasSuffix(f[1], here) && strings.HasSuffix(f[2], there) || strings.HasSuffix(f[1], there) && strings.HasSuffix(f[2], here)) {
			continue
		}
		tx, rx, _ := strings.Cut(f[4], ":")
		for _, x := range []string{tx, rx} {
			n, err := strconv.ParseInt(x, 16, 64)
			require.NoError(t, err)
			bytes += int(n)
		}
	}
	return bytes
}

// A page that stops reading costs less than 2 MiB, in the program and in the
// kernel together, however much there is to tell meanwhile.
func TestAPageThatStopsReadingCostsLittleMemory(t *testing.T) {
	bench := session.New(session.Config{Scales: []sheet.Scale{{Name: "bench", Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram}}})
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	page, err := web.New(web.Config{Listener: ln, Bench: bench, Log: zerolog.Nop()})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	var group sync.WaitGroup
	group.Go(func() { _ = bench.Run(ctx) })
	group.Go(func() { _ = page.Run(ctx) })
	t.Cleanup(func() { cancel(); group.Wait() })
	reads, _, err := websocket.DefaultDialer.Dial("ws://"+ln.Addr().String()+"/live", nil)
	require.NoError(t, err)
	defer reads.Close()
	group.Go(func() {
		for {
			_, r, err := reads.NextReader()
			if err != nil {
				return
			}
			_, _ = io.Copy(io.Discard, r)
		}
	})
	n := 0
	// Tells so many views, each of its own, and gives what the program holds then.
	tell := func(views int) uint64 {
		for range views {
			n++
			bench.Feed(scale.Update{Scale: "bench", At: time.Now(), Link: scale.Up, Counts: scale.Counts{Damaged: uint64(n)}})
		}
		_, _, _, _ = bench.Open(ctx) // returns when the bench has taken them
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc + m.StackInuse
	}
	for range 10 {
		tell(500)
	}
	before := tell(500)
	stopped := stopReading(t, ln.Addr().String())
	defer stopped.Close()
	most, held := uint64(0), 0
	for range 20 {
		now := tell(500)
		k := queued(t, stopped)
		held = max(held, k)
		if now > before {
			most = max(most, now-before+uint64(k))
		}
	}
	t.Logf("%d KiB more at most, of these %d KiB in the kernel", most>>10, held>>10)
	assert.NotZero(t, held, "nothing waits for the page: it reads after all")
	assert.Less(t, most, uint64(2<<20))
}

func keepOneStopped(b *testing.B, addr string) {
	stop, done := make(chan struct{}), make(chan struct{})
	first := stopReading(b, addr)
	go func() {
		defer close(done)
		last := first
		for {
			select {
			case <-stop:
				last.Close()
				return
			case <-time.After(4 * time.Second): // the server waits five for a page
				next := stopReading(b, addr)
				last.Close()
				last = next
			}
		}
	}()
	b.Cleanup(func() { close(stop); <-done })
}
