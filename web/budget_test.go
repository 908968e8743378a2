package web

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gorilla/websocket"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/book"
)

// from is a connection that comes from an address.
type from struct {
	net.Conn
	addr string
}

func (f from) RemoteAddr() net.Addr {
	a, _ := net.ResolveTCPAddr("tcp", f.addr)
	return a
}

// network is a listener that browsers of many addresses reach, and the server behind it.
type network struct {
	*pipes
	s *Server
}

// beyond starts a server to which strangers come, inside a bubble.
func beyond(t *testing.T, change func(*Config)) (network, *fakeBench, func()) {
	t.Helper()
	p, b := newPipes(), newFakeBench()
	b.show(session.View{})
	cfg := Config{Bench: b, Listener: p, Pair: true, Open: true, Log: zerolog.Nop()}
	if change != nil {
		change(&cfg)
	}
	s, err := New(cfg)
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	return network{p, s}, b, func() {
		cancel()
		assert.NoError(t, <-done)
	}
}

// connect makes a connection from an address.
func (n network) connect(t *testing.T, addr string) net.Conn {
	t.Helper()
	here, there := net.Pipe()
	n.c <- from{there, addr}
	return here
}

// send makes a connection that sends this and nothing more. What comes back is read.
func (n network) send(t *testing.T, addr, what string) (net.Conn, *bufio.Reader) {
	t.Helper()
	c := n.connect(t, addr)
	_, err := io.WriteString(c, what)
	require.NoError(t, err)
	return c, bufio.NewReader(c)
}

// watch opens a live connection from an address, with a cookie where it is paired.
func (n network) watch(t *testing.T, addr string, paired bool) *websocket.Conn {
	t.Helper()
	d := websocket.Dialer{NetDialContext: func(context.Context, string, string) (net.Conn, error) { return n.connect(t, addr), nil }}
	h := http.Header{"Origin": {"http://localhost"}}
	if paired {
		h.Set("Cookie", known(n.s).String())
	}
	c, _, err := d.Dial("ws://localhost/live", h)
	require.NoError(t, err)
	nextView(t, c)
	return c
}

// closed reports whether the other side has closed a connection.
func closed(c net.Conn) bool {
	_ = c.SetReadDeadline(time.Now().Add(time.Millisecond))
	_, err := io.Copy(io.Discard, c)
	return err == nil
}

// Sixty-four silent live connections once kept the potter's own page out.
func TestStrangersThatWatchKeepNobodyOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n, b, stop := beyond(t, nil)
		potter := n.watch(t, "10.0.0.1:1", true)
		var all []*websocket.Conn
		told := make(chan bool, 1000)
		stranger := func(addr string) {
			c := n.watch(t, addr, false)
			all = append(all, c)
			go func() {
				var err error
				for err == nil {
					_, _, err = c.ReadMessage()
				}
				told <- websocket.IsCloseError(err, websocket.CloseTryAgainLater)
			}()
		}
		for i := range 3 * mostWatch {
			stranger(fmt.Sprintf("10.0.%d.9:%d", i/eachWatch, 2000+i))
		}
		for i := range 3 * eachWatch {
			stranger(fmt.Sprintf("10.9.9.9:%d", 2000+i))
		}
		synctest.Wait()
		assert.Equal(t, mostWatch+1, b.views.Watching())
		assert.Len(t, told, len(all)-mostWatch)
		for range len(told) {
			assert.True(t, <-told, "told to go, and not just cut off")
		}
		second := n.watch(t, "10.9.9.9:1", true)
		for _, c := range []*websocket.Conn{potter, second} {
			b.show(session.View{Recording: session.Recording{OK: true}})
			nextView(t, c)
		}
		for _, c := range append(all, potter, second) {
			_ = c.Close()
		}
		stop()
	})
}

// What is announced and never sent once held a connection for ever.
func TestWhoNeverEndsARequestIsDropped(t *testing.T) {
	for what, sent := range map[string]string{
		"nothing":             "",
		"half a head":         "GET / HTTP/1.1\r\nHost: localh",
		"no body":             "POST /api/pair HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n",
		"half a body":         "POST /api/pair HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{\"code\":",
		"no body, refused":    "POST /api/do HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n",
		"no body, other page": "POST /api/do HTTP/1.1\r\nHost: localhost\r\nOrigin: http://x\r\nContent-Length: 100\r\n\r\n",
		"a body with a GET":   "GET /api/view HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\n",
		"an endless chunk":    "POST /api/pair HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n5\r\n{\"a\":",
	} {
		t.Run(what, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				n, _, stop := beyond(t, nil)
				c, r := n.send(t, "10.0.0.9:9", sent)
				start := time.Now()
				_, err := io.Copy(io.Discard, r)
				assert.NoError(t, err)
				assert.LessOrEqual(t, time.Since(start), headerWait+bodyWait)
				_ = c.Close()
				stop()
			})
		})
	}
}

// Connections have places too: those of an address are few, and strangers as a whole leave
// room for the paired.
func TestStrangersThatConnectKeepNobodyOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n, _, stop := beyond(t, nil)
		ask := "GET /api/view HTTP/1.1\r\nHost: localhost\r\nCookie: " + known(n.s).String() + "\r\n\r\n"
		potter, answers := n.send(t, "10.0.0.1:1", ask)
		answer := func() {
			t.Helper()
			res, err := http.ReadResponse(answers, nil)
			require.NoError(t, err)
			_, err = io.Copy(io.Discard, res.Body)
			require.NoError(t, err)
			assert.Equal(t, http.StatusOK, res.StatusCode)
		}
		answer()
		var all []net.Conn
		for i := range 2 * mostConns {
			all = append(all, n.connect(t, fmt.Sprintf("10.%d.9.9:9", i%100)))
			if (i+1)%mostConns == 0 {
				time.Sleep(sparedFor)
			}
		}
		for range 2 * eachConns {
			all = append(all, n.connect(t, "10.200.9.9:9"))
		}
		_, err := io.WriteString(potter, ask)
		require.NoError(t, err)
		answer()
		open, greedy := 0, 0
		for i, c := range all {
			if !closed(c) {
				open++
				assert.GreaterOrEqual(t, i, len(all)-mostConns-eachConns, "the oldest go")
				if i >= 2*mostConns {
					greedy++
				}
			}
			_ = c.Close()
		}
		assert.Equal(t, mostConns, open)
		assert.Equal(t, eachConns, greedy)
		_ = potter.Close()
		stop()
	})
}

// A connection of the potter is a stranger's until its first request came. One was dropped
// for want of half a second, where a thousand strangers came back all the time.
func TestANewConnectionIsSparedForAWhile(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		n, _, stop := beyond(t, nil)
		potter := n.connect(t, "10.0.0.1:1")
		var all []net.Conn
		come := func(strangers int) {
			for i := range strangers {
				all = append(all, n.connect(t, fmt.Sprintf("10.1.%d.9:9", i%200)))
			}
		}
		come(burstConns - 1)
		time.Sleep(sparedFor / 2)
		_, err := io.WriteString(potter, "GET /api/view HTTP/1.1\r\nHost: localhost\r\nCookie: "+known(n.s).String()+"\r\n\r\n")
		require.NoError(t, err)
		res, err := http.ReadResponse(bufio.NewReader(potter), nil)
		require.NoError(t, err)
		assert.Equal(t, http.StatusOK, res.StatusCode)
		come(burstConns)
		open := 0
		for _, c := range all {
			if !closed(c) {
				open++
			}
			_ = c.Close()
		}
		assert.Equal(t, burstConns, open, "and yet they are bounded")
		_ = potter.Close()
		stop()
	})
}

// slowBook takes a while over each label, and counts how many are drawn at a time.
type slowBook struct {
	Book
	now, most chan int
}

func (b slowBook) Batches(context.Context, string, book.Order, int, int) ([]book.Row, int, error) {
	at := <-b.now + 1
	b.most <- max(<-b.most, at)
	b.now <- at
	time.Sleep(time.Second)
	b.now <- <-b.now - 1
	return nil, 0, nil
}

func newSlowBook() slowBook {
	b := slowBook{Book: fakeBook{}, now: make(chan int, 1), most: make(chan int, 1)}
	b.now <- 0
	b.most <- 0
	return b
}

// However many strangers ask, few of their questions are in work, and the paired do not
// wait behind them.
func TestStrangersWaitForTheirTurn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := newSlowBook()
		n, _, stop := beyond(t, func(c *Config) { c.Book = slow })
		ask := "GET /api/book HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n"
		status := make(chan int)
		for i := range 200 {
			c, r := n.send(t, fmt.Sprintf("10.0.%d.9:9", i%50), ask+"\r\n")
			go func() {
				res, err := http.ReadResponse(r, nil)
				if err != nil {
					status <- 0
					return
				}
				_, _ = io.Copy(io.Discard, r)
				_ = c.Close()
				status <- res.StatusCode
			}()
		}
		time.Sleep(strangerWait / 2)
		start := time.Now()
		c, r := n.send(t, "10.0.0.9:9", ask+"Cookie: "+known(n.s).String()+"\r\n\r\n")
		res, err := http.ReadResponse(r, nil)
		require.NoError(t, err)
		assert.Equal(t, http.StatusOK, res.StatusCode)
		assert.Equal(t, time.Second, time.Since(start), "as long as it takes, and no longer")
		_, _ = io.Copy(io.Discard, r)
		_ = c.Close()
		got := map[int]int{}
		for range 200 {
			got[<-status]++
		}
		assert.Greater(t, got[http.StatusOK], 8)
		assert.Equal(t, 200, got[http.StatusOK]+got[http.StatusServiceUnavailable], "%v", got)
		assert.LessOrEqual(t, <-slow.most, len(turns{})+1)
		stop()
	})
}

// Strangers have nothing to send that is long.
func TestStrangersSendLittle(t *testing.T) {
	s, _ := newServer(t, func(c *Config) { c.Pair = true })
	long := `{"code":"` + strings.Repeat("x", strangerBody) + `"}`
	w := do(s, request("POST", "/api/pair", long))
	assert.Equal(t, http.StatusRequestEntityTooLarge, w.Code)
	assert.Contains(t, w.Body.String(), "4 KiB")
	r := request("POST", "/api/pair", long)
	r.AddCookie(known(s))
	assert.Equal(t, http.StatusForbidden, do(s, r).Code)
}

// known is the cookie of a paired browser.
func known(s *Server) *http.Cookie {
	s.devices.Admit("0123456789abcdef")
	return s.devices.Cookie("0123456789abcdef", false)
}

// An address has a few tries a minute, and the log says so once.
func TestWrongCodesAreFewAndLoggedOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log bytes.Buffer
		s, _ := newServer(t, func(c *Config) { c.Pair, c.Log, c.Now = true, zerolog.New(&log), time.Now })
		code, _ := s.devices.NewCode()
		try := func(addr, code string) int {
			r := request("POST", "/api/pair", `{"code":"`+code+`"}`)
			r.RemoteAddr = addr
			return do(s, r).Code
		}
		for i := range 10_000 {
			want := http.StatusForbidden
			if i >= 5 {
				want = http.StatusTooManyRequests
			}
			require.Equal(t, want, try(fmt.Sprintf("10.0.0.9:%d", 1+i), "wrong"))
		}
		assert.Equal(t, http.StatusTooManyRequests, try("10.0.0.9:9", code), "the right code tells nothing then")
		assert.Equal(t, 1, strings.Count(log.String(), "\n"), "%.500s", log.String())
		assert.Equal(t, http.StatusForbidden, try("10.0.0.8:9", "wrong"), "another address has its own")
		time.Sleep(time.Minute)
		assert.Equal(t, http.StatusForbidden, try("10.0.0.9:9", "wrong"))
		assert.Equal(t, http.StatusOK, try("10.0.0.9:9", code))

		code, _ = s.devices.NewCode()
		for i := range 10_000 {
			try(fmt.Sprintf("[2001:db8:%x::1]:9", i), "wrong")
			try(fmt.Sprintf("10.1.%d.%d:9", i/256, i%256), "wrong")
		}
		assert.Equal(t, http.StatusForbidden, try("10.0.0.7:9", code), "a code that was guessed at from everywhere serves no more")
		code, _ = s.devices.NewCode()
		assert.Equal(t, http.StatusOK, try("10.0.0.6:9", code))
	})
}

func TestWhatCountsAsOneAddress(t *testing.T) {
	for _, same := range [][2]string{{"10.0.0.1:1", "10.0.0.1:2"}, {"10.0.0.1:1", "[::ffff:10.0.0.1]:1"}, {"[2001:db8::1]:1", "[2001:db8::ffff:1]:2"}, {"[fe80::1%eth0]:1", "[fe80::2%eth0]:1"}, {"pipe", "pipe"}} {
		assert.Equal(t, addrOf(same[0]), addrOf(same[1]))
	}
	for _, other := range [][2]string{{"10.0.0.1:1", "10.0.0.2:1"}, {"[2001:db8::1]:1", "[2001:db8:0:1::1]:1"}, {"[::1]:1", "127.0.0.1:1"}} {
		assert.NotEqual(t, addrOf(other[0]), addrOf(other[1]))
	}
}
