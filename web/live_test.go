package web

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gorilla/websocket"
	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tared/session"
	"tared/session/text"
)

// pipes is a listener without a network: its connections have no buffer at all,
// so that a browser that does not read is as slow as one can be, and they keep
// to the fake time of a synctest bubble.
type pipes struct {
	c      chan net.Conn
	once   sync.Once
	closed chan struct{}
}

func newPipes() *pipes { return &pipes{c: make(chan net.Conn), closed: make(chan struct{})} }

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.c:
		return c, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error { p.once.Do(func() { close(p.closed) }); return nil }

func (p *pipes) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 7410} }

func (p *pipes) dial(context.Context, string, string) (net.Conn, error) {
	here, there := net.Pipe()
	select {
	case p.c <- from{there, "127.0.0.1:50000"}:
		return here, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

// running starts a server on pipes inside a bubble and gives what stops it.
func running(t *testing.T, b *fakeBench) (*pipes, func()) {
	t.Helper()
	p := newPipes()
	s, err := New(Config{Bench: b, Listener: p, Log: zerolog.Nop()})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	return p, func() {
		cancel()
		assert.NoError(t, <-done)
	}
}

func watcher(t *testing.T, p *pipes) *websocket.Conn {
	t.Helper()
	d := websocket.Dialer{NetDialContext: p.dial}
	c, _, err := d.Dial("ws://localhost/live", http.Header{"Origin": {"http://localhost"}})
	require.NoError(t, err)
	return c
}

// message is what comes over the line: a view, or a beat.
type message struct {
	Seq uint64 `json:"seq"`
	Set struct {
		Seq uint64 `json:"seq"`
	} `json:"set"` // what changed
	Beat string `json:"beat"`
}

func next(t *testing.T, c *websocket.Conn) message {
	t.Helper()
	_, b, err := c.ReadMessage()
	require.NoError(t, err)
	var m message
	require.NoError(t, json.Unmarshal(b, &m))
	m.Seq = max(m.Seq, m.Set.Seq)
	return m
}

func nextView(t *testing.T, c *websocket.Conn) message {
	t.Helper()
	for {
		if m := next(t, c); m.Beat == "" {
			return m
		}
	}
}

func TestAWatcherGetsTheSnapshotThenEachNewerViewAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(whiting())
		p, stop := running(t, b)
		c := watcher(t, p)
		require.EqualValues(t, 1, nextView(t, c).Seq)
		for i := uint64(2); i < 20; i++ {
			before := time.Now()
			b.show(whiting())
			require.EqualValues(t, i, nextView(t, c).Seq)
			assert.Zero(t, time.Since(before), "a view must not wait for a clock")
		}
		require.NoError(t, c.Close())
		stop()
	})
}

func TestAMessageComesEachSecondWhileTheBenchIsQuiet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(whiting())
		p, stop := running(t, b)
		c := watcher(t, p)
		nextView(t, c)
		for range 60 {
			before := time.Now()
			m := next(t, c)
			assert.NotEmpty(t, m.Beat)
			assert.LessOrEqual(t, time.Since(before), time.Second)
		}
		require.NoError(t, c.Close())
		stop()
	})
}

func TestNoBeatComesFromABenchThatIsStuck(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(whiting())
		p, stop := running(t, b)
		c := watcher(t, p)
		nextView(t, c)
		require.NotEmpty(t, next(t, c).Beat)
		b.setStuck(true)
		heard := make(chan message, 100)
		go func() {
			for {
				_, raw, err := c.ReadMessage()
				if err != nil {
					return
				}
				var m message
				if json.Unmarshal(raw, &m) == nil {
					heard <- m
				}
			}
		}()
		time.Sleep(5 * time.Second)
		// One beat may have been due when the bench stopped.
		assert.LessOrEqual(t, len(heard), 1, "a page must not believe a bench that does not answer")
		b.setStuck(false)
		time.Sleep(3 * time.Second) // the next beats, wherever in their second the bench came back
		assert.Greater(t, len(heard), 1)
		require.NoError(t, c.Close())
		stop()
	})
}

func TestASlowBrowserDelaysNobodyAndIsDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(whiting())
		p, stop := running(t, b)
		slow := watcher(t, p) // never reads
		quick := watcher(t, p)
		require.EqualValues(t, 1, nextView(t, quick).Seq)
		for i := uint64(2); i < 200; i++ {
			before := time.Now()
			b.show(whiting())
			require.EqualValues(t, i, nextView(t, quick).Seq)
			require.Zero(t, time.Since(before))
		}
		assert.Equal(t, 2, b.views.Watching())
		go func() { // the quick one goes on reading
			for {
				if _, _, err := quick.ReadMessage(); err != nil {
					return
				}
			}
		}()
		time.Sleep(writeWait + time.Second)
		assert.Equal(t, 1, b.views.Watching(), "the slow browser's watch must be closed")
		require.NoError(t, slow.Close())
		require.NoError(t, quick.Close())
		stop()
		assert.Zero(t, b.views.Watching())
	})
}

func TestASlowBrowserThatReadsAgainGetsTheNewestView(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(whiting())
		p, stop := running(t, b)
		c := watcher(t, p)
		synctest.Wait() // the snapshot is being written
		for range 100 {
			b.show(whiting())
		}
		assert.EqualValues(t, 1, nextView(t, c).Seq)
		assert.EqualValues(t, 101, nextView(t, c).Seq, "one slot, the newest wins")
		require.NoError(t, c.Close())
		stop()
	})
}

func TestTheServerPingsAndDropsWhoDoesNotAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(whiting())
		p, stop := running(t, b)
		c := watcher(t, p)
		pings := 0
		c.SetPingHandler(func(string) error { pings++; return nil }) // and no pong
		start := time.Now()
		for {
			if _, _, err := c.ReadMessage(); err != nil {
				break
			}
		}
		assert.GreaterOrEqual(t, pings, 2)
		assert.InDelta(t, pongWait.Seconds(), time.Since(start).Seconds(), 1)
		stop()
	})
}

func TestRunEndsLiveConnectionsToo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(whiting())
		p, stop := running(t, b)
		c := watcher(t, p)
		nextView(t, c)
		closed := make(chan error, 1)
		go func() {
			for {
				if _, _, err := c.ReadMessage(); err != nil {
					closed <- err
					return
				}
			}
		}()
		stop()
		assert.True(t, websocket.IsCloseError(<-closed, websocket.CloseGoingAway))
		assert.Zero(t, b.views.Watching())
		_ = c.Close()
	})
}

// A page too many takes the place of the one that has been there longest, which comes back
// by itself where anyone still looks at it.
func TestWatchersAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newFakeBench()
		b.show(session.View{})
		p, stop := running(t, b)
		var all []*websocket.Conn
		for range mostWatch + 1 {
			all = append(all, watcher(t, p))
			nextView(t, all[len(all)-1])
		}
		var err error
		for err == nil { // a beat may have come in between
			_, _, err = all[0].ReadMessage()
		}
		assert.True(t, websocket.IsCloseError(err, websocket.CloseTryAgainLater), "%v", err)
		_ = all[0].Close()
		synctest.Wait()
		assert.Equal(t, mostWatch, b.views.Watching())
		for _, c := range all {
			_ = c.Close()
		}
		stop()
	})
}

func TestTheSameViewIsFramedOnce(t *testing.T) {
	var c frameCache
	view := []byte(`{"seq":1}`)
	a := c.of(view, time.Now())
	require.Equal(t, append([]byte{0x81, 9}, view...), a, "a whole text of nine bytes, not masked: RFC 6455, section 5.2")
	assert.Same(t, &a[0], &c.of(view, time.Now())[0])
	other := c.of([]byte(strings.Clone(`{"seq":2}`)), time.Now())
	assert.NotSame(t, &a[0], &other[0])
	assert.Nil(t, c.of(nil, time.Time{}))
}

// The unmasked examples of RFC 6455, section 5.7.
func TestFramesOfAnyLength(t *testing.T) {
	assert.Equal(t, []byte("\x81\x05Hello"), frameOf(websocket.TextMessage, []byte("Hello")))
	assert.Equal(t, []byte("\x89\x05Hello"), frameOf(websocket.PingMessage, []byte("Hello")))
	for n, head := range map[int]string{256: "\x82\x7e\x01\x00", 65536: "\x82\x7f\x00\x00\x00\x00\x00\x01\x00\x00"} {
		what := make([]byte, n)
		assert.Equal(t, append([]byte(head), what...), frameOf(websocket.BinaryMessage, what))
	}
}

// Over TCP a browser is written to as far as its kernel takes it; what is cut off there goes
// on where it stopped, and what comes behind it is the newest.
func TestABrowserThatReadsAgainGetsWholeMessages(t *testing.T) {
	b := newFakeBench()
	v := whiting()
	b.show(v)
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s, err := New(Config{Bench: b, Listener: ln, Log: zerolog.Nop()})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	c, _, err := websocket.DefaultDialer.Dial("ws://"+ln.Addr().String()+"/live", nil)
	require.NoError(t, err)
	require.EqualValues(t, 1, nextView(t, c).Seq)
	last := uint64(1)
	for round := range 3 {
		for range 3000 { // megabytes, and nothing is read
			v.Now.Material = strings.Repeat(fmt.Sprint(last, " "), 500)
			b.showAs(v)
			last++
		}
		heard, at := 0, uint64(0)
		for at < last {
			seq := nextView(t, c).Seq
			require.Greater(t, seq, at)
			at = seq
			heard++
		}
		assert.Less(t, heard, 2900, "round %d: nothing was cut off", round)
	}
	_ = c.Close()
	cancel()
	require.NoError(t, <-done)
}

// BenchmarkViewToBrowser measures from a new view to its bytes at a browser on
// this machine, over TCP.
func BenchmarkViewToBrowser(b *testing.B) {
	bench := newFakeBench()
	bench.show(whiting())
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(b, err)
	s, err := New(Config{Bench: bench, Listener: ln, Log: zerolog.Nop()})
	require.NoError(b, err)
	ctx, cancel := context.WithCancel(b.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	c, _, err := websocket.DefaultDialer.Dial("ws://"+ln.Addr().String()+"/live", nil)
	require.NoError(b, err)
	v := whiting().Shown() // the bench marks the steps of a batch once for each fact
	read := func(seq uint64) {
		for {
			_, raw, err := c.ReadMessage()
			require.NoError(b, err)
			var m message
			require.NoError(b, json.Unmarshal(raw, &m))
			if max(m.Seq, m.Set.Seq) == seq {
				return
			}
		}
	}
	read(1)
	for seq := uint64(2); b.Loop(); seq++ {
		// What a line of a scale changes.
		bar, digits := *v.Now.Show.Bar, fmt.Sprintf("%.1f", float64(seq%1000)/10)
		bar.Needle, bar.Says = int(seq%1000)*10, text.Written(digits+" g in.")
		v.Now.In, v.Now.Missing, v.Now.Fill, v.Now.Show.Digits, v.Now.Show.Bar = digits, digits, int(seq%1000), digits, &bar
		v.Scales = slices.Clone(v.Scales)
		v.Scales[0].Shows, v.Scales[0].Raw, v.Scales[0].Frames = digits, digits, seq
		bench.showAs(v)
		read(seq)
	}
	_ = c.Close()
	cancel()
	require.NoError(b, <-done)
}
