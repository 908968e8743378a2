package web

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"sync/atomic"

	"tared/session"
	"tared/session/text"
)

// site is what all routes share.
type site struct {
	cfg      Config
	hosts    map[string]bool
	pairing  *pairing
	mustPair atomic.Bool
	live     *live
	photos   chan struct{} // a place for each photograph on its way
}

// done answers with what was asked for, or says why it is not there. What is no
// fault of the person who asked is logged.
func (s *site) done(w http.ResponseWriter, doing string, v any, err error) {
	if err != nil {
		refuse(w, s.status(doing, err), text.Of(err))
		return
	}
	answer(w, http.StatusOK, v)
}

func (s *site) status(doing string, err error) int {
	switch {
	case err == nil:
		return http.StatusOK
	case errors.Is(err, ErrNoBatch):
		return http.StatusNotFound
	case strings.HasPrefix(text.Of(err).Code, "page."): // the page itself says so
		return http.StatusBadRequest
	case errors.Is(err, session.ErrRefused):
		return http.StatusConflict
	}
	s.cfg.Log.Error().Err(err).Msg(doing)
	return http.StatusInternalServerError
}

// command lets only paired browsers through, where pairing is needed.
func (s *site) command(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.mayCommand(r) {
			refuse(w, http.StatusUnauthorized, text.New("page.api.not-paired"))
			return
		}
		next(w, r)
	}
}

func (s *site) mayCommand(r *http.Request) bool { return !s.mustPair.Load() || s.pairing.paired(r) }

// lasting is for a command: once begun it is finished even when the browser leaves,
// and the page learns the outcome from the next view.
func lasting(r *http.Request) (context.Context, context.CancelFunc) {
	return context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
}

func (s *site) announceCode() {
	code := s.pairing.newCode()
	if s.cfg.Code != nil {
		s.cfg.Code(code)
	}
}

// withBook lets a request through where a record is kept.
func (s *site) withBook(next http.HandlerFunc) http.HandlerFunc {
	if s.cfg.Book != nil {
		return next
	}
	return func(w http.ResponseWriter, _ *http.Request) {
		refuse(w, http.StatusNotFound, text.New("page.no-record"))
	}
}

// scales are the names of the scales that the bench hears.
func (s *site) scales() (names []string) {
	watch := s.cfg.Bench.Watch()
	defer watch.Close()
	var v struct {
		Scales []session.ScaleView `json:"scales"`
	}
	_ = json.Unmarshal(watch.Latest(), &v) // no view has no scales
	for _, scale := range v.Scales {
		if !scale.Eye {
			names = append(names, scale.Name)
		}
	}
	return names
}
