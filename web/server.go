package web

import (
	"context"
	"errors"
	"log"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"tared/session/text"
	"tared/web/device"
	"tared/web/lan"
)

// Server serves the pages.
type Server struct {
	*site
	handler http.Handler
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
	cfg.Log = cfg.Log.Hook(&seldom{said: map[string]said{}})
	devices, err := device.New(cfg.Key, cfg.Now)
	if err != nil {
		return nil, err
	}
	own, err := os.Hostname()
	if err != nil {
		cfg.Log.Warn().Err(err).Msg("own host name unknown; open the page by address")
	}
	s := &site{
		cfg:     cfg,
		hosts:   hostNames(own, cfg.Names),
		devices: devices,
		photos:  make(chan struct{}, photoSlots),
		conns:   places{most: mostConns, each: eachConns, burst: burstConns},
		turns:   newTurns(),
		ends:    make(chan struct{}),
	}
	s.end = sync.OnceFunc(func() { close(s.ends) })
	s.live = newLive(cfg.Bench, s.mayCommand, s.hold)
	handler, err := routes(s)
	if err != nil {
		return nil, err
	}
	return &Server{s, s.guard(handler)}, nil
}

// Run listens and serves until ctx ends, then closes everything that it opened,
// live connections too. It returns nil when ctx ended it. A Server runs once.
func (s *Server) Run(ctx context.Context) error {
	ln := s.cfg.Listener
	if ln == nil {
		var err error
		if ln, err = (&net.ListenConfig{}).Listen(ctx, "tcp", s.cfg.Addr); err != nil {
			return text.Kind(err, text.Refuse("page.listen", text.Name("address", s.cfg.Addr), text.Because("why", err)))
		}
	}
	s.know(ctx)
	links := []string{}
	reached := lan.Reached(ln.Addr())
	for _, a := range reached {
		links = append(links, schemeOf(s.cfg.TLS != nil)+a.String()+"/")
	}
	if s.cfg.Link != "" {
		links = slices.Insert(links, 0, s.cfg.Link)
	}
	_, s.port, _ = net.SplitHostPort(ln.Addr().String())
	s.reached.Store(&links)
	hs := s.server(withConn)
	served := make(chan error, 1)
	d := door{ln, &s.conns}
	var in net.Listener = d
	var parts sync.WaitGroup
	if s.cfg.TLS != nil {
		p := newParting(d, s.cfg.TLS)
		in = p
		parts.Go(func() { p.run(ctx) })
	}
	go func() { served <- hs.Serve(in) }()
	if s.cfg.Code != nil && s.cfg.Pair && len(reached) == 0 { // nobody else asks for a name
		s.cfg.Code(s.invite())
	}
	if s.cfg.Ready != nil {
		s.cfg.Ready(ln.Addr())
	}
	if s.cfg.Code != nil && len(reached) > 0 {
		parts.Go(func() {
			if s.cfg.Name.Settled(ctx); ctx.Err() == nil {
				s.cfg.Code(s.invite())
			}
		})
	}
	var err error
	select {
	case err = <-served:
		err = text.Kind(err, text.Refuse("page.ended", text.Name("address", ln.Addr().String()), text.Because("why", err)))
	case <-ctx.Done():
	}
	s.live.close()
	stop(ctx, hs) // which does not know hijacked connections; live.close has told those
	s.live.Wait()
	parts.Wait()
	return err
}

// warnings has the library that serves speak in the one log that there is.
type warnings struct{ log zerolog.Logger }

// Write takes one thing that it says.
func (w warnings) Write(b []byte) (int, error) {
	w.log.Warn().Str("says", strings.TrimSpace(string(b))).Msg("a request went wrong")
	return len(b), nil
}

// Control serves those who may open a socket in the file system, until ctx ends. It closes
// ln, and returns nil when ctx ended it.
func (s *Server) Control(ctx context.Context, ln net.Listener) error {
	hs := s.server(func(ctx context.Context, _ net.Conn) context.Context {
		return context.WithValue(ctx, rightsKey{}, true)
	})
	served := make(chan error, 1)
	go func() { served <- hs.Serve(ln) }()
	select {
	case err := <-served:
		return err
	case <-ctx.Done():
	}
	stop(ctx, hs)
	return nil
}

// server serves all routes, and lets nobody hold a connection for ever.
func (s *Server) server(known func(context.Context, net.Conn) context.Context) *http.Server {
	hs := &http.Server{
		Handler:           s.handler,
		ReadHeaderTimeout: headerWait,
		// A body that is announced and never sent holds a connection no longer than this. A
		// photograph may take longer, and live connections have deadlines of their own.
		ReadTimeout:    bodyWait,
		WriteTimeout:   answerWait,
		IdleTimeout:    idleWait,
		MaxHeaderBytes: 32 << 10,
		ConnContext:    known,
		ErrorLog:       log.New(warnings{s.cfg.Log}, "", 0),
	}
	hs.RegisterOnShutdown(s.end)
	return hs
}

// stop lets requests in work end, and cuts off those that do not.
func stop(ctx context.Context, hs *http.Server) {
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownWait)
	defer cancel()
	if hs.Shutdown(end) != nil {
		_ = hs.Close() // nothing is lost with it
	}
}
