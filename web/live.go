package web

import (
	"net/http"
	"sync"
	"time"

	"github.com/gorilla/websocket"

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
	closeWait = time.Second            // a courtesy to a peer that may be gone
	// sendBuffer bounds what the kernel holds for a slow line: of the views the newest is to
	// win there too.
	sendBuffer = 32 << 10
)

// live is the connections to the browsers that watch.
type live struct {
	bench    Bench
	known    func(r *http.Request) bool
	hold     func(id string, end func()) (release func()) // has what a device watches ended when it is sent away
	places   places
	upgrader websocket.Upgrader
	frames   frameCache
	pulse    pulse

	mu             sync.Mutex
	viewers        map[*viewer]struct{}
	closed         bool // at the end: every connection leaves
	sync.WaitGroup      // of those who watch
}

func newLive(b Bench, known func(r *http.Request) bool, hold func(id string, end func()) func()) *live {
	l := &live{bench: b, known: known, hold: hold, places: places{most: mostWatch, each: eachWatch}, viewers: map[*viewer]struct{}{}}
	l.upgrader = websocket.Upgrader{HandshakeTimeout: headerWait, ReadBufferSize: 512, WriteBufferPool: &sync.Pool{}, CheckOrigin: sameOrigin}
	l.pulse = pulse{bench: b, age: l.frames.age, tell: l.tell}
	return l
}

// close tells every connection to leave and lets no new one in.
func (l *live) close() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.closed = true
	for v := range l.viewers {
		v.leave(websocket.CloseGoingAway)
	}
}

// serve lets a browser watch. The connection then goes its own way, and keeps neither the
// request nor its goroutine.
func (l *live) serve(w http.ResponseWriter, r *http.Request) {
	v := l.enter(r)
	if v == nil {
		refuse(w, r, http.StatusServiceUnavailable, text.New("page.api.too-many"))
		return
	}
	conn, err := l.upgrader.Upgrade(w, r, nil)
	if err != nil { // the upgrader has answered
		l.forget(v)
		return
	}
	release := l.hold(callerOf(r).device, func() { v.leave(websocket.ClosePolicyViolation) })
	go func() {
		defer l.forget(v)
		defer release()
		defer l.pulse.join()()
		v.run(conn)
	}()
}

// enter gives a browser its place; nil: the server closes.
func (l *live) enter(r *http.Request) *viewer {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.closed {
		return nil
	}
	l.Add(1)
	v := &viewer{live: l, reads: languageOf(r)}
	l.viewers[v] = struct{}{}
	v.place = l.places.take(addrOf(r.RemoteAddr), l.known(r), func() { v.leave(websocket.CloseTryAgainLater) })
	return v
}

func (l *live) forget(v *viewer) {
	l.places.leave(v.place)
	l.mu.Lock()
	delete(l.viewers, v)
	l.mu.Unlock()
	l.Done()
}

// watching tells how many browsers watch.
func (l *live) watching() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.viewers)
}

// tell sends all of them a frame.
func (l *live) tell(frame []byte) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for v := range l.viewers {
		v.tell(frame)
	}
}

// frameCache holds the websocket frames of what was told of the newest view, so that it is
// framed once for all who are told the same.
type frameCache struct {
	mu     sync.Mutex
	frames map[*byte][]byte // by where the view begins
	news   time.Time        // when the newest view was shown that anyone was told
}

// age tells how old the newest view is that anyone was told.
func (c *frameCache) age(now time.Time) time.Duration {
	c.mu.Lock()
	defer c.mu.Unlock()
	return now.Sub(c.news)
}

// of gives the frame of what session.Watcher.Next gave. The same is the same slice, as it
// promises; the cache holds the slice, so its address cannot serve another.
func (c *frameCache) of(view []byte, news time.Time) []byte {
	if len(view) == 0 {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if f := c.frames[&view[0]]; f != nil {
		return f
	}
	if c.frames == nil || news.After(c.news) {
		c.frames, c.news = map[*byte][]byte{}, news
	}
	f := frameOf(websocket.TextMessage, view)
	c.frames[&view[0]] = f
	return f
}
