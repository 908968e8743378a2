package sim

import (
	"io"
	"os"
	"sync"
	"time"
)

// pipeRoom is how many bytes wait for a listener before frames are dropped.
const pipeRoom = 2048

// pipe is a wire inside the program, for systems without pseudo-terminals and
// for tests in fake time.
type pipe struct {
	mu     sync.Mutex
	to     []byte // what the listener has not read yet
	from   []byte // what it sent
	heard  bool   // somebody has opened it; what came before is gone, as on a port
	closed bool
	wake   chan struct{}
}

func newPipe() *pipe { return &pipe{wake: make(chan struct{}, 1)} }

func (p *pipe) put(frame []byte) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if !p.heard || len(p.to)+len(frame) > pipeRoom {
		return false
	}
	p.to = append(p.to, frame...)
	p.nudge()
	return true
}

func (p *pipe) nudge() {
	select {
	case p.wake <- struct{}{}:
	default:
	}
}

func (p *pipe) get(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(p.from) == 0 {
		return 0, errNobody
	}
	n := copy(b, p.from)
	p.from = p.from[n:]
	return n, nil
}

func (p *pipe) path() string { return "" }

func (p *pipe) close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closed = true
	p.nudge()
	return nil
}

func (p *pipe) listen() io.ReadWriteCloser {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.heard, p.to = true, nil
	return &listener{p}
}

// listener is the other end of a pipe. One goroutine reads.
type listener struct{ p *pipe }

// readWait is how long a port waits for bytes.
const readWait = 200 * time.Millisecond

// Read waits up to 200 ms; (0, nil) when nothing came, an error once the cable
// is pulled.
func (l *listener) Read(b []byte) (int, error) {
	t := time.NewTimer(readWait)
	defer t.Stop()
	for {
		l.p.mu.Lock()
		n := copy(b, l.p.to)
		l.p.to = l.p.to[n:]
		closed := l.p.closed
		l.p.mu.Unlock()
		switch {
		case n > 0:
			return n, nil
		case closed:
			return 0, os.ErrClosed
		}
		select {
		case <-l.p.wake:
		case <-t.C:
			return 0, nil
		}
	}
}

// Write sends a command to the scale.
func (l *listener) Write(b []byte) (int, error) {
	l.p.mu.Lock()
	defer l.p.mu.Unlock()
	if l.p.closed {
		return 0, os.ErrClosed
	}
	l.p.from = append(l.p.from, b...)
	return len(b), nil
}

// Close lets go of the port; the scale goes on speaking to nobody.
func (l *listener) Close() error {
	l.p.mu.Lock()
	defer l.p.mu.Unlock()
	l.p.heard, l.p.to = false, nil
	return nil
}
