package web

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gorilla/websocket"
	"github.com/rs/zerolog"
)

// DefaultAddr is where the page is served unless told otherwise: this machine only.
const DefaultAddr = "127.0.0.1:7410"

const (
	headerWait   = 10 * time.Second // for a request's headers
	bodyWait     = 10 * time.Second // for a command's body
	idleWait     = 2 * time.Minute  // for the next request on a connection
	shutdownWait = 5 * time.Second  // for requests in work when the server ends
)

// Config says what a Server serves and to whom.
type Config struct {
	// Addr is listened on when Listener is nil; empty is DefaultAddr.
	Addr string
	// Listener is used instead of Addr, and closed by Run.
	Listener net.Listener
	// Ready is called, when not nil, with the address once it is listened on.
	Ready func(net.Addr)

	Bench   Bench
	Book    Book     // nil: the book pages say that there is none
	Samples []Sample // recipes that the sheet page offers
	Photos  string   // data directory that keeps photographs; empty: none are kept
	Hands   Hands    // nil: no simulated hands
	Extra   []Route  // more routes of the wiring, behind the same guard

	// Names are host names by which browsers may call this machine, besides
	// localhost, addresses in digits and the machine's own name.
	Names []string
	// Pair asks for a paired browser even on loopback. Beyond loopback commands
	// always need one.
	Pair bool
	// Key signs the pairing cookies. Keep it to keep browsers paired over a
	// restart; nil makes a new one.
	Key []byte
	// Code is called, when not nil, with each new one-time code.
	Code func(code string)

	Log zerolog.Logger
	// Now gives the time of a command; nil is time.Now.
	Now func() time.Time
}

// Sample is a recipe that the sheet page offers.
type Sample struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// Route is one more handler, with its pattern as in http.ServeMux.
type Route struct {
	Pattern string
	Handler http.Handler
}

// Server serves the pages.
type Server struct {
	cfg      Config
	handler  http.Handler
	pages    map[string]asset
	hosts    map[string]bool
	pairing  *pairing
	mustPair atomic.Bool
	upgrader websocket.Upgrader
	frames   frameCache
	pulse    pulse
	photos   chan struct{} // a place for each photograph on its way

	mu       sync.Mutex
	closing  chan struct{} // closed when Run ends: every live connection leaves
	closed   bool
	watchers int
	live     sync.WaitGroup
}

// New makes a server and starts nothing.
func New(cfg Config) (*Server, error) {
	if cfg.Bench == nil {
		return nil, errors.New("web: no bench to serve")
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Addr == "" {
		cfg.Addr = DefaultAddr
	}
	pages, err := loadPages()
	if err != nil {
		return nil, err
	}
	pairing, err := newPairing(cfg.Key, cfg.Now)
	if err != nil {
		return nil, err
	}
	own, err := os.Hostname()
	if err != nil {
		cfg.Log.Warn().Err(err).Msg("own host name unknown; open the page by address")
	}
	s := &Server{
		cfg:     cfg,
		pages:   pages,
		hosts:   hostNames(own, cfg.Names),
		pairing: pairing,
		closing: make(chan struct{}),
		photos:  make(chan struct{}, photoSlots),
	}
	s.upgrader = websocket.Upgrader{
		HandshakeTimeout: headerWait,
		ReadBufferSize:   512,
		WriteBufferSize:  4096,
		CheckOrigin:      sameOrigin,
	}
	s.pulse = pulse{bench: cfg.Bench, views: &s.frames}
	s.mustPair.Store(cfg.Pair)
	s.handler = s.guard(s.routes())
	return s, nil
}

// Run listens and serves until ctx ends, then closes everything that it opened,
// live connections too. It returns nil when ctx ended it. A Server runs once.
func (s *Server) Run(ctx context.Context) error {
	ln := s.cfg.Listener
	if ln == nil {
		var err error
		if ln, err = (&net.ListenConfig{}).Listen(ctx, "tcp", s.cfg.Addr); err != nil {
			return fmt.Errorf("listen on %q for the page: %w", s.cfg.Addr, err)
		}
	}
	if !loopback(ln.Addr()) {
		s.mustPair.Store(true)
	}
	if s.mustPair.Load() {
		s.announceCode()
	}
	hs := &http.Server{
		Handler:           s.handler,
		ReadHeaderTimeout: headerWait,
		IdleTimeout:       idleWait,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          nil,
		// No WriteTimeout: live connections stay; each of their writes has its own
		// deadline.
	}
	served := make(chan error, 1)
	go func() { served <- hs.Serve(ln) }()
	if s.cfg.Ready != nil {
		s.cfg.Ready(ln.Addr())
	}
	var err error
	select {
	case err = <-served:
		err = fmt.Errorf("serve the page on %s: %w", ln.Addr(), err)
	case <-ctx.Done():
	}
	s.closeLive()
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownWait)
	defer cancel()
	// Shutdown does not know hijacked connections; closeLive has told those.
	if hs.Shutdown(end) != nil {
		_ = hs.Close() // a request that does not end is cut off; nothing is lost with it
	}
	s.live.Wait()
	return err
}

// closeLive tells every live connection to leave and lets no new one in.
func (s *Server) closeLive() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.closed {
		s.closed = true
		close(s.closing)
	}
}

func (s *Server) announceCode() {
	code := s.pairing.newCode()
	if s.cfg.Code != nil {
		s.cfg.Code(code)
	}
}

// loopback tells whether only this machine can reach a.
func loopback(a net.Addr) bool {
	switch a := a.(type) {
	case *net.TCPAddr:
		return a.IP.IsLoopback()
	case *net.UnixAddr:
		return true
	}
	return false
}
