package web

import (
	"context"
	"net/http"
	"strings"

	"tared/session"
)

func (s *Server) gaugeRoutes(mux *http.ServeMux) {
	mux.HandleFunc("POST /api/check", s.command(s.postCheck))
	mux.HandleFunc("POST /api/order", s.command(s.postOrder))
}

// postCheck begins a check of a scale, or ends one; the view tells how it goes.
func (s *Server) postCheck(w http.ResponseWriter, r *http.Request) {
	var c session.CheckRequest
	if !read(w, r, &c) {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	if err := s.cfg.Bench.Check(ctx, c); err != nil {
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
	if !read(w, r, &o) {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	if err := s.cfg.Bench.Order(ctx, o.Scale, strings.ToLower(o.Do), o.By); err != nil {
		s.failed(w, "tell the "+o.Scale+" scale", err)
		return
	}
	answer(w, http.StatusOK, map[string]bool{"ok": true})
}
