package web

import (
	"net/http"
	"strings"

	"tared/session"
)

// postCheck begins a check of a scale, or ends one; the view tells how it goes.
func (s *site) postCheck(w http.ResponseWriter, r *http.Request) {
	var c session.CheckRequest
	if !read(w, r, &c) {
		return
	}
	ctx, cancel := lasting(r)
	defer cancel()
	s.done(w, "check the "+c.Scale+" scale", ok, s.cfg.Bench.Check(ctx, c))
}

// postOrder passes on what a person tells a scale to do.
func (s *site) postOrder(w http.ResponseWriter, r *http.Request) {
	var o struct {
		Scale string `json:"scale"`
		Do    string `json:"do"`
		By    string `json:"by"`
	}
	if !read(w, r, &o) {
		return
	}
	ctx, cancel := lasting(r)
	defer cancel()
	s.done(w, "tell the "+o.Scale+" scale", ok, s.cfg.Bench.Order(ctx, o.Scale, strings.ToLower(o.Do), o.By))
}
