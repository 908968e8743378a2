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

// run beats as long as the bench answers. A bench that is stuck gets no beats
// sent, and turns to dashes on every page.
func (p *pulse) run(ctx context.Context) {
	every := time.NewTicker(beatEvery)
	defer every.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-every.C:
			if p.views.age(now) < beatEvery {
				continue // a view has proved the same since the last beat
			}
			ask, cancel := context.WithTimeout(ctx, aliveWait)
			alive := p.bench.Alive(ask) == nil
			cancel()
			if alive {
				p.beat(now)
			}
		}
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
