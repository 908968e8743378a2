package web

import (
	"context"
	"crypto/tls"
	"errors"
	"net"
	"sync"
	"time"
)

// parting lets those in who speak TLS and those who do not, at one address: the first byte
// tells. So a telephone that knows the address alone is led on, and can fetch what it has to
// trust.
type parting struct {
	door
	tls  *tls.Config
	come chan net.Conn
	end  chan struct{}
	once sync.Once
}

// handshake is the first byte of TLS (RFC 8446, section 5.1).
const handshake = 0x16

func newParting(d door, c *tls.Config) *parting {
	return &parting{door: d, tls: c, come: make(chan net.Conn), end: make(chan struct{})}
}

func (p *parting) Accept() (net.Conn, error) {
	select {
	case c := <-p.come:
		return c, nil
	case <-p.end:
		return nil, net.ErrClosed
	}
}

func (p *parting) Close() error {
	p.once.Do(func() { close(p.end) })
	return p.door.Close()
}

// run lets in until the door closes. When it returns, all that it started is gone.
func (p *parting) run(ctx context.Context) {
	var all sync.WaitGroup
	defer all.Wait()
	for {
		c, err := p.door.Accept()
		switch {
		case errors.Is(err, net.ErrClosed) || ctx.Err() != nil:
			return
		case err != nil: // too many files are open, perhaps
			time.Sleep(50 * time.Millisecond)
			continue
		}
		all.Go(func() { p.look(c.(*heldConn)) })
	}
}

// look waits for the first byte, no longer than for a head.
func (p *parting) look(c *heldConn) {
	stop := make(chan struct{})
	defer close(stop)
	go func() {
		select {
		case <-p.end:
			_ = c.SetReadDeadline(time.Unix(1, 0))
		case <-stop:
		}
	}()
	first := make([]byte, 1)
	_ = c.SetReadDeadline(time.Now().Add(headerWait))
	if _, err := c.Conn.Read(first); err != nil {
		_ = c.Close()
		return
	}
	_ = c.SetReadDeadline(time.Time{})
	c.first = first
	var out net.Conn = c
	if first[0] == handshake {
		out = tls.Server(c, p.tls)
	}
	select {
	case p.come <- out:
	case <-p.end:
		_ = c.Close()
	}
}
