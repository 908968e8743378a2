package web

import (
	"context"
	"crypto/tls"
	"errors"
	"hash/maphash"
	"net"
	"net/http"
	"net/netip"
	"path"
	"slices"
	"sync"
	"syscall"
	"time"

	"tared/session/text"
)

// A browser that may command is known; whoever else reaches the page is a stranger. Both
// may look, and strangers within a budget: however many there are, what they take leaves
// the known their places, their memory and their turn.

const (
	mostConns, eachConns = 256, 32 // connections of strangers, and those of one address
	// A connection of the known is a stranger's until its first request is there. So the young
	// are spared, as long as they are not many more.
	burstConns           = 8 * mostConns
	sparedFor            = time.Second
	mostWatch, eachWatch = 64, 8   // live ones among them
	strangerBody         = 4 << 10 // bytes: strangers have nothing to send but a pairing code
	strangerWait         = 5 * time.Second
	strangerWrite        = 10 * time.Second // for the whole of an answer
)

// place is what one browser holds of something that there is not enough of.
type place struct {
	addr  string
	known bool
	since time.Time
	drop  func() // ends it
}

// places are handed out to the known and to strangers apart, to each as many. Where none is
// left, the one who has held his longest loses it: a browser comes back by itself, and
// who only sits there does not keep others out.
type places struct {
	most, each int // of strangers each is what one address gets
	burst      int // as many are there while the oldest is still spared

	mu   sync.Mutex
	held []*place // the oldest first
}

func (p *places) take(addr string, known bool, drop func()) *place {
	n := &place{addr, known, time.Now(), drop}
	p.mu.Lock()
	out := p.over(n)
	p.held = append(p.held, n)
	p.mu.Unlock()
	if out != nil {
		out.drop()
	}
	return n
}

// over takes out who has to go for a new one; nil: nobody.
func (p *places) over(n *place) *place {
	var same, all []int
	for i, h := range p.held {
		if h.known == n.known {
			all = append(all, i)
			if h.addr == n.addr {
				same = append(same, i)
			}
		}
	}
	switch {
	case !n.known && len(same) >= p.each:
		all = same
	case len(all) < p.most || len(all) < p.burst && n.since.Sub(p.held[all[0]].since) < sparedFor:
		return nil
	}
	out := p.held[all[0]]
	p.held = slices.Delete(p.held, all[0], all[0]+1)
	return out
}

func (p *places) leave(n *place) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if i := slices.Index(p.held, n); i >= 0 {
		p.held = slices.Delete(p.held, i, i+1)
	}
}

// know counts a place among those of the known from now on.
func (p *places) know(n *place) {
	p.mu.Lock()
	defer p.mu.Unlock()
	n.known = true
}

// addrOf gives what counts as one address: with IPv6 a network, for a single machine has
// all of its addresses.
func addrOf(remote string) string {
	a, err := netip.ParseAddrPort(remote)
	if err != nil {
		return remote
	}
	if ip := a.Addr().Unmap(); ip.Is4() {
		return ip.String()
	}
	net, _ := a.Addr().WithZone("").Prefix(64) // every IPv6 address has one
	return net.String()
}

// door lets connections in. Each has a place, as a stranger until a request proves better.
type door struct {
	net.Listener
	places *places
}

func (d door) Accept() (net.Conn, error) {
	c, err := d.Listener.Accept()
	if err != nil {
		return nil, err
	}
	if tcp, ok := c.(*net.TCPConn); ok {
		_ = tcp.SetWriteBuffer(sendBuffer) // only bounds what waits; without it all works
	}
	h := &heldConn{Conn: c, places: d.places}
	h.place = d.places.take(addrOf(c.RemoteAddr().String()), false, func() { _ = c.Close() })
	return h, nil
}

type heldConn struct {
	net.Conn
	places *places
	place  *place
	first  []byte // was read already
}

func (c *heldConn) Read(b []byte) (int, error) {
	if len(c.first) > 0 {
		n := copy(b, c.first)
		c.first = c.first[n:]
		return n, nil
	}
	return c.Conn.Read(b)
}

func (c *heldConn) Close() error {
	c.places.leave(c.place)
	return c.Conn.Close()
}

// SyscallConn gives the connection itself.
func (c *heldConn) SyscallConn() (syscall.RawConn, error) {
	if sc, ok := c.Conn.(syscall.Conn); ok {
		return sc.SyscallConn()
	}
	return nil, errors.ErrUnsupported
}

// connKey is that of the connection in the context of its requests.
type connKey struct{}

func withConn(ctx context.Context, c net.Conn) context.Context {
	if t, ok := c.(*tls.Conn); ok {
		c = t.NetConn()
	}
	return context.WithValue(ctx, connKey{}, c)
}

// turns let few strangers' requests be in work at a time, and one of an address: each
// address has its turn among those of one row.
type turns [8]chan struct{}

// rows is a seed, so that nobody can pick the row in which another waits.
var rows = maphash.MakeSeed()

func newTurns() *turns {
	var t turns
	for i := range t {
		t[i] = make(chan struct{}, 1)
	}
	return &t
}

// wait waits for a turn and takes it; false: none came in time.
func (t *turns) wait(ctx context.Context, addr string) (done func(), ok bool) {
	row := t[maphash.String(rows, addr)%uint64(len(t))]
	late := time.NewTimer(strangerWait)
	defer late.Stop()
	select {
	case row <- struct{}{}:
		return func() { <-row }, true
	case <-late.C:
	case <-ctx.Done():
	}
	return nil, false
}

// stranger answers one within the budget. Who watches, who fetches a photograph as it lies
// there, and who sends a code is held by his place alone: none of it is any work.
func (t *turns) stranger(w http.ResponseWriter, r *http.Request, next http.Handler) {
	r.Body = http.MaxBytesReader(w, r.Body, strangerBody)
	if ok, _ := path.Match("/photo/*", r.URL.Path); ok || r.URL.Path == "/live" || r.Method == http.MethodPost {
		next.ServeHTTP(w, r)
		return
	}
	done, ok := t.wait(r.Context(), addrOf(r.RemoteAddr))
	if !ok {
		w.Header().Set("Retry-After", "5")
		refuse(w, r, http.StatusServiceUnavailable, text.New("page.api.too-many"))
		return
	}
	defer done()
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(strangerWrite))
	next.ServeHTTP(w, r)
}
