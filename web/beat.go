package web

import (
	"context"
	"fmt"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

// pulse asks the bench whether it is alive and tells all who watch, as long as
// anyone does. One question serves for all: twenty pages with a clock each would
// keep an idle machine awake.
type pulse struct {
	bench Bench
	views *frameCache

	mu       sync.Mutex
	watchers map[chan *websocket.PreparedMessage]struct{}
	stop     context.CancelFunc // of the goroutine that asks
	stopped  chan struct{}
}

// join gives a channel that gets the message for each beat. Leave waits until
// all that nobody needs any more is gone.
func (p *pulse) join() (beats <-chan *websocket.PreparedMessage, leave func()) {
	c := make(chan *websocket.PreparedMessage, 1)
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.watchers == nil {
		p.watchers = map[chan *websocket.PreparedMessage]struct{}{}
	}
	if len(p.watchers) == 0 {
		ctx, stop := context.WithCancel(context.Background())
		stopped := make(chan struct{})
		p.stop, p.stopped = stop, stopped
		go func() {
			defer close(stopped)
			p.run(ctx)
		}()
	}
	p.watchers[c] = struct{}{}
	return c, func() { p.leave(c) }
}

func (p *pulse) leave(c chan *websocket.PreparedMessage) {
	p.mu.Lock()
	delete(p.watchers, c)
	last, stop, stopped := len(p.watchers) == 0, p.stop, p.stopped
	p.mu.Unlock()
	if last {
		stop()
		<-stopped
	}
}

// run beats as long as the bench answers, whenever nothing else has been told for
// a while. A bench that is stuck gets no beats sent, and turns to dashes on every
// page.
func (p *pulse) run(ctx context.Context) {
	var last time.Time // beat
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-timer.C:
		}
		now := time.Now()
		if quiet := min(now.Sub(last), p.views.age(now)); quiet < beatAfter {
			timer.Reset(beatAfter - quiet) // a view, or a beat, has proved the same since
			continue
		}
		ask, cancel := context.WithTimeout(ctx, aliveWait)
		alive := p.bench.Alive(ask) == nil
		cancel()
		if alive {
			last = now
			p.beat(now)
		}
		timer.Reset(aliveWait)
	}
}

func (p *pulse) beat(now time.Time) {
	m, err := websocket.NewPreparedMessage(websocket.TextMessage, beatOf(now))
	if err != nil {
		return // it frames every text
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for c := range p.watchers {
		select {
		case c <- m:
		default: // the writer is at work; one beat is enough
		}
	}
}

// beatOf makes the message that proves the line alive, with the server's time
// so that the page can tell ages without trusting its own clock.
func beatOf(now time.Time) []byte {
	return fmt.Appendf(nil, `{"beat":%q}`, now.UTC().Format(time.RFC3339Nano))
}
