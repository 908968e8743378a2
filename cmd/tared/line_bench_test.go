//go:build linux

package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/gorilla/websocket"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"

	"tared/protocol"
	"tared/scale"
	"tared/scale/serialport"
	"tared/session/plan"
	"tared/web"
)

// BenchmarkLineToView measures the way of a line: written to a pseudo-terminal,
// until a websocket client holds what came of it. Beside it runs the plainest
// bridge there is, a read loop and a broadcast of the raw line, on the same
// machine in the same run. Each reports the median and the 99th percentile.
//
// 26 November 2026, two processors of a virtual machine (AMD EPYC), Linux, Go 1.26,
// nothing else at work; median in µs, bridge in brackets. One client: 436 (277) at
// 100 lines a second, 220 (205) at 1000. Twenty clients: 840 (676) and 768 (634).
// That is 1.07 to 1.57 times. At ten and twenty lines a second, where the processor
// has gone to sleep between two lines, 1.5 to 1.77 times, some 200 to 450 µs more.
func BenchmarkLineToView(b *testing.B) {
	for _, clients := range []int{1, 20} {
		for _, rate := range []int{10, 20, 100, 1000} {
			b.Run(fmt.Sprintf("tared/clients=%d/rate=%d", clients, rate), func(b *testing.B) {
				line(b, clients, rate, serveTared)
			})
			b.Run(fmt.Sprintf("bridge/clients=%d/rate=%d", clients, rate), func(b *testing.B) {
				line(b, clients, rate, serveBridge)
			})
		}
	}
}

// server brings a page up on the port and gives the address of its websocket
// and how to find the number of the line in a message.
type server func(b *testing.B, port string) (url string, number func([]byte) int)

func line(b *testing.B, clients, rate int, serve server) {
	master, slave, err := pty.Open()
	require.NoError(b, err)
	defer master.Close()
	defer slave.Close()
	url, number := serve(b, slave.Name())

	var mu sync.Mutex
	sent := map[int]time.Time{}
	var took []time.Duration
	for range clients {
		conn, _, err := websocket.DefaultDialer.Dial(url, nil)
		require.NoError(b, err)
		b.Cleanup(func() { conn.Close() })
		go func() {
			last := -1
			var buf bytes.Buffer // the client is not what is measured: it makes no garbage
			for {
				_, r, err := conn.NextReader()
				if err != nil {
					return
				}
				buf.Reset()
				if _, err := buf.ReadFrom(r); err != nil {
					return
				}
				msg := buf.Bytes()
				at := time.Now()
				n := number(msg)
				if n < 0 || n == last {
					continue
				}
				last = n
				mu.Lock()
				if t, ok := sent[n]; ok {
					took = append(took, at.Sub(t))
				}
				mu.Unlock()
			}
		}()
	}
	time.Sleep(300 * time.Millisecond) // the port is opened and flushed
	tick := time.NewTicker(time.Second / time.Duration(rate))
	defer tick.Stop()
	n := 0
	b.ResetTimer()
	for range b.N {
		<-tick.C
		n++
		text := fmt.Sprintf("ST,GS,%8.1f g\r\n", float64(n%9000)/10+1)
		mu.Lock()
		sent[n%9000] = time.Now()
		mu.Unlock()
		_, err := master.WriteString(text)
		require.NoError(b, err)
	}
	b.StopTimer()
	time.Sleep(100 * time.Millisecond)
	mu.Lock()
	defer mu.Unlock()
	if len(took) == 0 {
		if b.N > 10 {
			b.Fatal("no line reached a client")
		}
		return
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)/2].Microseconds()), "p50-µs")
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds()), "p99-µs")
	b.ReportMetric(0, "ns/op")
}

// shown turns the digits of the line back into its number.
func shown(digits string) int {
	f, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
	if err != nil {
		return -1
	}
	return int(f*10+0.5) - 10
}

func serveTared(b *testing.B, port string) (string, func([]byte) int) {
	dir := b.TempDir()
	log := zerolog.Nop()
	w, err := newLiveBench(liveBenchConfig{dir: dir, log: log, listen: listenPorts(dir, log),
		scales: []scale.Config{{Name: "bench", Port: port, Format: "header-comma-mode", Baud: 9600, Step: protocol.Gram / 10, Max: 2 * protocol.Kilogram}}})
	require.NoError(b, err)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(b, err)
	page, err := web.New(web.Config{Listener: ln, Bench: w.bench, Log: log})
	require.NoError(b, err)
	ctx, cancel := context.WithCancel(context.Background())
	var group sync.WaitGroup
	group.Go(func() { _ = w.Run(ctx) })
	group.Go(func() { _ = page.Run(ctx) })
	b.Cleanup(func() { cancel(); group.Wait(); w.Close() })
	_, err = w.bench.Start(ctx, plan.Request{Recipe: "Quartz 60\nWhiting 40\n", Base: "750g", By: "Mara"})
	require.NoError(b, err)
	return "ws://" + ln.Addr().String() + "/live", func(msg []byte) int {
		// Twenty clients that parse whole views would take the cores from the one
		// that is measured: they look for the one member.
		_, rest, _ := bytes.Cut(msg, []byte(`shows":"`))
		digits, _, _ := bytes.Cut(rest, []byte(`"`))
		return shown(string(digits))
	}
}

// serveBridge is the yardstick: whatever the port says goes to every client.
func serveBridge(b *testing.B, port string) (string, func([]byte) int) {
	p, err := serialport.Ports{}.Open(port, protocol.Line{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1})
	require.NoError(b, err)
	var mu sync.Mutex
	slots := map[chan []byte]bool{}
	up := websocket.Upgrader{}
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		conn, err := up.Upgrade(w, r, nil)
		if err != nil {
			return
		}
		defer conn.Close()
		c := make(chan []byte, 64)
		mu.Lock()
		slots[c] = true
		mu.Unlock()
		for m := range c {
			if conn.WriteMessage(websocket.TextMessage, m) != nil {
				return
			}
		}
	}))
	stop := make(chan struct{})
	done := make(chan struct{})
	go func() {
		defer close(done)
		buf := make([]byte, 4096)
		var rest []byte
		for {
			select {
			case <-stop:
				return
			default:
			}
			n, err := p.Read(buf)
			if err != nil {
				return
			}
			rest = append(rest, buf[:n]...)
			for {
				i := bytes.IndexByte(rest, '\n')
				if i < 0 {
					break
				}
				m := bytes.Clone(bytes.TrimSpace(rest[:i]))
				rest = rest[i+1:]
				mu.Lock()
				for c := range slots {
					select {
					case c <- m:
					default:
					}
				}
				mu.Unlock()
			}
		}
	}()
	b.Cleanup(func() {
		close(stop)
		<-done
		p.Close()
		mu.Lock()
		for c := range slots {
			close(c)
		}
		mu.Unlock()
		srv.Close()
	})
	return "ws" + strings.TrimPrefix(srv.URL, "http"), func(msg []byte) int {
		if len(msg) < 8 {
			return -1
		}
		return shown(strings.TrimSuffix(string(msg[6:]), "g"))
	}
}
