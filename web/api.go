package web

import (
	"context"
	"net/http"
	"strings"

	"tared/session"
	"tared/session/text"
)

func (s *site) getView(w http.ResponseWriter, r *http.Request) {
	watch := s.cfg.Bench.Watch(nil).In(languageOf(r))
	defer watch.Close()
	b := watch.Latest()
	if b == nil {
		refuse(w, r, http.StatusServiceUnavailable, text.New("page.api.no-view"))
		return
	}
	write(w, http.StatusOK, ".json", b)
}

func (s *site) do(ctx context.Context, c session.Command) (any, error) {
	c.At = s.cfg.Now()
	c.Word = strings.ToLower(strings.TrimSpace(c.Word))
	c.Rest, c.By = strings.TrimSpace(c.Rest), strings.TrimSpace(c.By)
	if c.Word == "" {
		return nil, text.Refuse("page.api.no-word")
	}
	return ok, s.cfg.Bench.Do(ctx, c)
}

func (s *site) getHands(*http.Request) (any, error) {
	if s.cfg.Hands == nil {
		return []HandMoves{}, nil // no error: most benches have real hands, and their page asks all the same
	}
	return s.cfg.Hands.Moves(), nil
}

func (s *site) postHands(w http.ResponseWriter, r *http.Request) {
	var m struct {
		Scale string `json:"scale"`
		Do    string `json:"do"`
	}
	if !read(w, r, &m) {
		return
	}
	if s.cfg.Hands == nil {
		refuse(w, r, http.StatusNotFound, text.New("page.api.no-hands"))
		return
	}
	if err := s.cfg.Hands.Move(r.Context(), m.Scale, m.Do); err != nil {
		refuse(w, r, http.StatusConflict, text.Of(err))
		return
	}
	answer(w, http.StatusOK, s.cfg.Hands.Moves())
}

// pairPage tells a page whether it may command.
type pairPage struct {
	Needed bool `json:"needed"`
	May    bool `json:"may"`
}

func pairData(s *site, r *http.Request) (any, error) {
	return pairPage{s.cfg.Pair || !callerOf(r).local, s.mayCommand(r)}, nil
}

func (s *site) postPair(w http.ResponseWriter, r *http.Request) {
	var p struct {
		Code string `json:"code"`
	}
	if !read(w, r, &p) {
		return
	}
	if status := s.pairing.use(p.Code, addrOf(r.RemoteAddr)); status != http.StatusOK {
		s.cfg.Log.Warn().Str("from", r.RemoteAddr).Msg("wrong pairing code")
		why := text.New("page.pair.wrong")
		if status == http.StatusTooManyRequests {
			why = text.New("page.pair.wait")
		}
		refuse(w, r, status, why)
		return
	}
	http.SetCookie(w, s.pairing.cookie(callerOf(r).secure))
	s.cfg.Log.Info().Str("from", r.RemoteAddr).Msg("browser paired")
	s.announceCode() // so that the next browser finds one that serves
	answer(w, http.StatusOK, ok)
}
