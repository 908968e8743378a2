package web

import (
	"context"
	"net/http"
	"strconv"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
)

func (s *Server) afterRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/book/{mark}/after", s.withBook(s.getAfter))
	mux.HandleFunc("GET /api/book/{mark}/curve/{seq}", s.withBook(s.getCurve))
	mux.HandleFunc("POST /api/after", s.command(s.withBook(s.postAfter)))
	mux.HandleFunc("POST /api/reading", s.command(s.postReading))
	mux.HandleFunc("POST /api/vessel", s.command(s.postVessel))
	mux.HandleFunc("GET /api/vessels", s.getVessels)
}

func (s *Server) getAfter(w http.ResponseWriter, r *http.Request) {
	a, err := s.cfg.Book.After(r.Context(), r.PathValue("mark"), r.FormValue("wanted"))
	s.fromBook(w, a, err)
}

// getCurve draws the curve of a firing: the page's policy lets no picture in that
// does not come from here.
func (s *Server) getCurve(w http.ResponseWriter, r *http.Request) {
	a, err := s.cfg.Book.After(r.Context(), r.PathValue("mark"), "")
	if err != nil {
		s.fromBook(w, a, err)
		return
	}
	for _, e := range a.Entries {
		if e.Curve != "" && strconv.FormatUint(e.Seq, 10)+".svg" == r.PathValue("seq") {
			w.Header().Set("Content-Type", kinds[".svg"])
			w.Header().Set("Cache-Control", "no-store")
			_, _ = w.Write([]byte(e.Curve))
			return
		}
	}
	refuse(w, http.StatusNotFound, "no firing of this batch has a curve under that number")
}

// postAfter records something of a batch that is closed.
func (s *Server) postAfter(w http.ResponseWriter, r *http.Request) {
	var a session.AfterRequest
	if !read(w, r, &a) {
		return
	}
	was := func(seq uint64) book.Was { return s.cfg.Book.Was(r.Context(), a.Batch, seq) }
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	seq, err := s.cfg.Bench.After(ctx, a, was)
	if err != nil {
		s.failed(w, "record what came after batch "+a.Batch, err)
		return
	}
	answer(w, http.StatusOK, map[string]uint64{"seq": seq})
}

// postReading takes what a scale shows now.
func (s *Server) postReading(w http.ResponseWriter, r *http.Request) {
	var q struct {
		Scale string `json:"scale"`
	}
	if !read(w, r, &q) {
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), bodyWait)
	defer cancel()
	got, err := s.cfg.Bench.Read(ctx, q.Scale)
	if err != nil {
		s.failed(w, "read the "+q.Scale+" scale", err)
		return
	}
	answer(w, http.StatusOK, got)
}

// postVessel records a vessel.
func (s *Server) postVessel(w http.ResponseWriter, r *http.Request) {
	var q session.VesselWish
	if !read(w, r, &q) {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	v, err := s.cfg.Bench.Measure(ctx, q)
	if err != nil {
		s.failed(w, "record vessel "+q.Name, err)
		return
	}
	answer(w, http.StatusOK, vesselOf(v))
}

// vesselView is a vessel as a page shows it.
type vesselView struct {
	Name   string `json:"name"`
	Volume string `json:"volume"` // ml
}

func vesselOf(v fact.Vessel) vesselView { return vesselView{v.Name, v.Volume} }

func (s *Server) getVessels(w http.ResponseWriter, r *http.Request) {
	all := []vesselView{}
	ctx, cancel := context.WithTimeout(r.Context(), bodyWait)
	defer cancel()
	vs, err := s.cfg.Bench.Vessels(ctx)
	if err != nil {
		s.failed(w, "list the vessels", err)
		return
	}
	for _, v := range vs {
		all = append(all, vesselOf(v))
	}
	answer(w, http.StatusOK, all)
}
