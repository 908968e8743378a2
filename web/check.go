package web

import (
	"context"
	"net/http"
	"strings"

	"tared/session"
)

// Gauger is what the scales page needs of a bench that can check its scales and
// tell them something. The session's bench is one.
type Gauger interface {
	Check(ctx context.Context, r session.CheckRequest) error
	Order(ctx context.Context, name, what, by string) error
}

const noGauge = "the scales of this bench cannot be checked from here"

func (s *Server) gaugeRoutes(mux *http.ServeMux) {
	mux.HandleFunc("POST /api/check", s.command(s.postCheck))
	mux.HandleFunc("POST /api/order", s.command(s.postOrder))
}

// postCheck begins a check of a scale, or ends one; the view tells how it goes.
func (s *Server) postCheck(w http.ResponseWriter, r *http.Request) {
	var c session.CheckRequest
	g, ok := able[Gauger](s, w, noGauge)
	if !ok || !read(w, r, &c) {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	if err := g.Check(ctx, c); err != nil {
		s.failed(w, "check the "+c.Scale+" scale", err)
		return
	}
	answer(w, http.StatusOK, map[string]bool{"ok": true})
}

// postOrder passes on what a person tells a scale to do.
func (s *Server) postOrder(w http.ResponseWriter, r *http.Request) {
	var o struct {
		Scale string `json:"scale"`
		Do    string `json:"do"`
		By    string `json:"by"`
	}
	g, ok := able[Gauger](s, w, noGauge)
	if !ok || !read(w, r, &o) {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	if err := g.Order(ctx, o.Scale, strings.ToLower(o.Do), o.By); err != nil {
		s.failed(w, "tell the "+o.Scale+" scale", err)
		return
	}
	answer(w, http.StatusOK, map[string]bool{"ok": true})
}
