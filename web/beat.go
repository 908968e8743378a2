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
	age   func(now time.Time) time.Duration // of what all were told last
	tell  func(frame []byte)

	mu      sync.Mutex
	pages   int
	stop    context.CancelFunc // of the goroutine that asks
	stopped chan struct{}
}

// join begins to count a page in. Leave waits until all that nobody needs any more
// is gone.
func (p *pulse) join() (leave func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.pages++; p.pages == 1 {
		ctx, stop := context.WithCancel(context.Background())
		stopped := make(chan struct{})
		p.stop, p.stopped = stop, stopped
		go func() {
			defer close(stopped)
			p.run(ctx)
		}()
	}
	return p.leave
}

func (p *pulse) leave() {
	p.mu.Lock()
	p.pages--
	last, stop, stopped := p.pages == 0, p.stop, p.stopped
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
	pinged := time.Now()
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-timer.C:
		}
		now := time.Now()
		if now.Sub(pinged) >= pingEvery {
			pinged = now
			p.tell(frameOf(websocket.PingMessage, nil))
		}
		if quiet := min(now.Sub(last), p.age(now)); quiet < beatAfter {
			timer.Reset(beatAfter - quiet) // a view, or a beat, has proved the same since
			continue
		}
		ask, cancel := context.WithTimeout(ctx, aliveWait)
		alive := p.bench.Alive(ask) == nil
		cancel()
		if alive {
			last = now
			p.tell(frameOf(websocket.TextMessage, beatOf(now)))
		}
		timer.Reset(aliveWait)
	}
}

// beatOf makes the message that proves the line alive, with the server's time
// so that the page can tell ages without trusting its own clock.
func beatOf(now time.Time) []byte {
	return fmt.Appendf(nil, `{"beat":%q}`, now.UTC().Format(time.RFC3339Nano))
}
