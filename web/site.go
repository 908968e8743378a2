package web

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"

	"tared/session"
	"tared/session/recipe"
	"tared/session/text"
	"tared/web/device"
	"tared/web/help"
)

// site is what all routes share.
type site struct {
	cfg     Config
	hosts   map[string]bool
	devices *device.Keeper
	reached atomic.Pointer[[]string] // addresses of the page for others
	port    string                   // of the page; it is there before reached
	live    *live
	conns   places
	turns   *turns
	photos  chan struct{} // a place for each photograph on its way
	fault   faultDrawer
	weighed keptWeighed
	ends    chan struct{}          // closes when the server does
	end     func()                 // closes it
	working sync.Mutex             // one longer work on the record at a time
	packed  atomic.Pointer[string] // the copy that can be fetched
}

// done answers with what was asked for, or says why it is not there. What is no
// fault of the person who asked is logged.
func (s *site) done(w http.ResponseWriter, r *http.Request, v any, err error) {
	if err != nil {
		m, l := text.Of(err), languageOf(r)
		answer(w, s.status(r, err), fault{Error: onPage(l, m), Code: m.Code, Help: help.Link(m.Code), Lines: linesOf(err, l), Among: amongOf(err)})
		return
	}
	answer(w, http.StatusOK, v)
}

// tell answers with what get gives.
func (s *site) tell(get func(r *http.Request) (any, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := get(r)
		s.done(w, r, v, err)
	}
}

// carry carries out what a body asks for, and answers with what came of it. Once begun it
// is finished even when the browser leaves; the page learns the outcome from the next view.
func carry[T any](s *site, do func(ctx context.Context, asked T) (any, error)) http.HandlerFunc {
	return s.command(func(w http.ResponseWriter, r *http.Request) {
		var asked T
		if !read(w, r, &asked) {
			return
		}
		ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
		defer cancel()
		v, err := do(ctx, asked)
		s.done(w, r, v, err)
	})
}

func (s *site) status(r *http.Request, err error) int {
	switch {
	case err == nil:
		return http.StatusOK
	case errors.As(err, new(*recipe.Error)) || errors.As(err, new(unplanned)):
		return http.StatusUnprocessableEntity
	case errors.Is(err, ErrNoBatch) || errors.Is(err, errNoTopic):
		return http.StatusNotFound
	case strings.HasPrefix(text.Of(err).Code, "page."): // the page itself says so
		return http.StatusBadRequest
	case errors.Is(err, session.ErrRefused):
		return http.StatusConflict
	case r.Context().Err() != nil: // who asked has left
		return http.StatusServiceUnavailable
	}
	s.cfg.Log.Error().Err(err).Str("asked", r.Method+" "+r.URL.Path).Msg("not answered")
	return http.StatusInternalServerError
}

// command lets only paired browsers through, where pairing is needed.
func (s *site) command(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.mayCommand(r) {
			refuse(w, r, http.StatusUnauthorized, text.New("page.api.not-paired"))
			return
		}
		next(w, r)
	}
}

// mayCommand reports whether a request comes from this machine itself, or from a paired
// device.
func (s *site) mayCommand(r *http.Request) bool {
	c := callerOf(r)
	return byRights(r) || c.local && !s.cfg.Pair || c.device != ""
}

// mayRead reports whether whoever asks may see what the bench knows.
func (s *site) mayRead(r *http.Request) bool { return s.cfg.Open || s.mayCommand(r) }

// hold has something that a device does ended when it is sent away; nobody sends away who is
// none.
func (s *site) hold(id string, end func()) (release func()) {
	if id == "" {
		return func() {}
	}
	return s.devices.Hold(id, end)
}

// links are the addresses of the page for others, the likeliest first.
func (s *site) links() []string {
	if links := s.reached.Load(); links != nil {
		return *links
	}
	return nil
}

// know learns from the journal which devices may command.
func (s *site) know(ctx context.Context) {
	all, err := s.cfg.Bench.Devices(ctx)
	for _, d := range all {
		if d.Revoked.IsZero() {
			s.devices.Admit(d.ID)
		}
	}
	if err != nil && ctx.Err() == nil {
		s.cfg.Log.Warn().Err(err).Msg("paired devices are not known")
	}
}

// withBook lets a request through where a record is kept.
func (s *site) withBook(next http.HandlerFunc) http.HandlerFunc {
	if s.cfg.Book != nil {
		return next
	}
	return func(w http.ResponseWriter, r *http.Request) {
		refuse(w, r, http.StatusNotFound, text.New("page.no-record"))
	}
}

// scales are the names of the scales that the bench hears.
func (s *site) scales() (names []string) {
	watch := s.cfg.Bench.Watch(nil)
	defer watch.Close()
	for _, scale := range watch.View().Scales {
		if !scale.Eye {
			names = append(names, scale.Name)
		}
	}
	return names
}
