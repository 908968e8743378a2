package web

import (
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"tared/session"
	"tared/session/text"
)

const (
	// beatAfter keeps the gap between messages under a second, so that a page that
	// hears nothing for two seconds knows the line dead and not merely slow.
	beatAfter = 900 * time.Millisecond
	aliveWait = 400 * time.Millisecond // for the bench to answer before a beat
	pingEvery = 15 * time.Second       // server pings; the page script cannot see them
	pongWait  = 40 * time.Second       // two pings and some may go unanswered
	writeWait = 5 * time.Second        // a browser that takes nothing for so long is gone
	// sendBuffer bounds what the kernel holds for a slow line: of the views the newest is to
	// win there too.
	sendBuffer = 32 << 10
)

// live is the connections to the browsers that watch.
type live struct {
	bench    Bench
	known    func(r *http.Request) bool
	places   places
	upgrader websocket.Upgrader
	frames   frameCache
	pulse    pulse

	mu             sync.Mutex
	closing        chan struct{} // closed at the end: every connection leaves
	closed         bool
	sync.WaitGroup // of those who watch
}

func newLive(b Bench, known func(r *http.Request) bool) *live {
	l := &live{bench: b, known: known, places: places{most: mostWatch, each: eachWatch}, closing: make(chan struct{})}
	l.upgrader = websocket.Upgrader{HandshakeTimeout: headerWait, ReadBufferSize: 512, WriteBufferSize: 4096, CheckOrigin: sameOrigin}
	l.pulse = pulse{bench: b, views: &l.frames}
	return l
}

// close tells every connection to leave and lets no new one in.
func (l *live) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.closed {
		l.closed = true
		close(l.closing)
	}
}

// serve sends a snapshot, then every newer view as soon as it is there, or
// the newest of several when the browser is slow: the watch has one slot. This
// goroutine is the only one that writes views to the connection.
func (l *live) serve(w http.ResponseWriter, r *http.Request) {
	dropped := make(chan struct{})
	place := l.enter(r, func() { close(dropped) })
	if place == nil {
		refuse(w, r, http.StatusServiceUnavailable, text.New("page.api.too-many"))
		return
	}
	defer l.leave(place)
	conn, err := l.upgrader.Upgrade(w, r, nil)
	if err != nil {
		return // the upgrader has answered
	}
	defer conn.Close()
	_ = conn.SetCompressionLevel(0) // a prepared message is framed again for any other level, compressed or not
	watch := l.bench.Watch().In(languageOf(r))
	defer watch.Close()

	gone := make(chan struct{})
	go func() {
		defer close(gone)
		hear(conn)
	}()
	beats, leave := l.pulse.join()
	why := l.tell(conn, watch, beats, gone, dropped)
	leave()
	_ = conn.WriteControl(websocket.CloseMessage, why, time.Now().Add(time.Second)) // a courtesy to a peer that may be gone
	_ = conn.Close()
	<-gone
}

// hear reads what the browser sends, which is pongs and the close: without a
// reader neither would be seen. Anything else is passed over.
func hear(conn *websocket.Conn) {
	conn.SetReadLimit(1 << 10)
	extend := func(string) error { return conn.SetReadDeadline(time.Now().Add(pongWait)) }
	conn.SetPongHandler(extend)
	if extend("") != nil {
		return
	}
	for {
		if _, _, err := conn.NextReader(); err != nil {
			return
		}
	}
}

// tell writes until the browser is gone or the server closes, and gives the
// close message for it. Nothing on the way of a view waits for a clock.
func (l *live) tell(conn *websocket.Conn, watch *session.Watcher, beats <-chan *websocket.PreparedMessage, gone, dropped <-chan struct{}) []byte {
	ping := time.NewTicker(pingEvery)
	defer ping.Stop()
	send := func() bool {
		m, err := l.frames.of(watch.Next())
		if m == nil || err != nil {
			return err == nil // nothing to show yet
		}
		_ = conn.SetWriteDeadline(time.Now().Add(writeWait)) // never fails, says its documentation
		return conn.WritePreparedMessage(m) == nil
	}
	for {
		select {
		case <-watch.C: // at once, for the view that is there
			if !send() {
				return nil
			}
		case beat := <-beats:
			_ = conn.SetWriteDeadline(time.Now().Add(writeWait))
			if conn.WritePreparedMessage(beat) != nil {
				return nil
			}
		case now := <-ping.C:
			if conn.WriteControl(websocket.PingMessage, nil, now.Add(writeWait)) != nil {
				return nil
			}
		case <-gone:
			return nil
		case <-dropped:
			return websocket.FormatCloseMessage(websocket.CloseTryAgainLater, "")
		case <-l.closing:
			return websocket.FormatCloseMessage(websocket.CloseGoingAway, "")
		}
	}
}

// enter gives a place; nil: the server closes.
func (l *live) enter(r *http.Request, drop func()) *place {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return nil
	}
	l.Add(1)
	return l.places.take(addrOf(r.RemoteAddr), l.known(r), drop)
}

func (l *live) leave(p *place) {
	l.places.leave(p)
	l.Done()
}

// frameCache holds the websocket frames of what was told of the newest view, so that it is
// framed once for all who are told the same.
type frameCache struct {
	mu     sync.Mutex
	frames map[*byte]*websocket.PreparedMessage // by where the view begins
	news   time.Time                            // when the newest view was shown that anyone was told
}

// age tells how old the newest view is that anyone was told.
func (c *frameCache) age(now time.Time) time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	return now.Sub(c.news)
}

// of gives the frame of what session.Watcher.Next gave. The same is the same slice, as it
// promises; the cache holds the slice, so its address cannot serve another.
func (c *frameCache) of(view []byte, news time.Time) (*websocket.PreparedMessage, error) {
	if len(view) == 0 {
		return nil, nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if m := c.frames[&view[0]]; m != nil {
		return m, nil
	}
	m, err := websocket.NewPreparedMessage(websocket.TextMessage, view)
	if err != nil {
		return nil, fmt.Errorf("frame a view: %w", err)
	}
	if c.frames == nil || news.After(c.news) {
		c.frames, c.news = map[*byte]*websocket.PreparedMessage{}, news
	}
	c.frames[&view[0]] = m
	return m, nil
}
