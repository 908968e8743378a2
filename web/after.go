package web

import (
	"context"
	"net/http"
	"strconv"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
)

// Later is what the page of a batch needs of a book that tells what came after
// the batch was closed. Wanted is a gravity, "" for none; one that cannot be read
// gives an error with session.ErrRefused in its chain.
type Later interface {
	After(ctx context.Context, mark, wanted string) (book.After, error)
	// Was gives an entry of a batch; the zero value when there is none.
	Was(ctx context.Context, mark string, seq uint64) book.Was
}

// Aftertaker is a bench that records such things. The session's bench is one.
type Aftertaker interface {
	After(ctx context.Context, r session.AfterRequest, was func(seq uint64) book.Was) (uint64, error)
}

func (s *Server) afterRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/book/{mark}/after", s.getAfter)
	mux.HandleFunc("GET /api/book/{mark}/curve/{seq}", s.getCurve)
	mux.HandleFunc("POST /api/after", s.command(s.postAfter))
	mux.HandleFunc("POST /api/reading", s.command(s.postReading))
	mux.HandleFunc("POST /api/vessel", s.command(s.postVessel))
	mux.HandleFunc("GET /api/vessels", s.getVessels)
}

func (s *Server) getAfter(w http.ResponseWriter, r *http.Request) {
	l, ok := s.cfg.Book.(Later)
	if !ok {
		refuse(w, http.StatusNotFound, "this record tells nothing of what came after a batch was closed")
		return
	}
	a, err := l.After(r.Context(), r.PathValue("mark"), r.FormValue("wanted"))
	if refusal, ok := err.(*session.Refusal); ok {
		refuse(w, http.StatusConflict, refusal.Words)
		return
	}
	s.fromBook(w, a, err)
}

// getCurve draws the curve of a firing: the page's policy lets no picture in that
// does not come from here.
func (s *Server) getCurve(w http.ResponseWriter, r *http.Request) {
	l, ok := s.cfg.Book.(Later)
	if !ok {
		refuse(w, http.StatusNotFound, "this record has no curves")
		return
	}
	a, err := l.After(r.Context(), r.PathValue("mark"), "")
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
	b, ok := s.cfg.Bench.(Aftertaker)
	l, ok2 := s.cfg.Book.(Later)
	if !ok || !ok2 {
		refuse(w, http.StatusNotFound, "this bench records nothing of a batch that is closed")
		return
	}
	if !read(w, r, &a) {
		return
	}
	was := func(seq uint64) book.Was { return l.Was(r.Context(), a.Batch, seq) }
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	seq, err := b.After(ctx, a, was)
	if err != nil {
		s.failed(w, "record what came after batch "+a.Batch, err)
		return
	}
	answer(w, http.StatusOK, map[string]uint64{"seq": seq})
}

// Scaler is a bench that reads its own scales for what comes after a batch, and
// knows the vessels that were measured. The session's bench is one.
type Scaler interface {
	Read(ctx context.Context, scale string) (session.Reading, error)
	Measure(ctx context.Context, w session.VesselWish) (fact.Vessel, error)
	Vessels(ctx context.Context) ([]fact.Vessel, error)
}

const noReading = "this bench reads no scale for what comes after a batch"

// postReading takes what a scale shows now.
func (s *Server) postReading(w http.ResponseWriter, r *http.Request) {
	var q struct {
		Scale string `json:"scale"`
	}
	b, ok := able[Scaler](s, w, noReading)
	if !ok || !read(w, r, &q) {
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), bodyWait)
	defer cancel()
	got, err := b.Read(ctx, q.Scale)
	if err != nil {
		s.failed(w, "read the "+q.Scale+" scale", err)
		return
	}
	answer(w, http.StatusOK, got)
}

// postVessel records a vessel.
func (s *Server) postVessel(w http.ResponseWriter, r *http.Request) {
	var q session.VesselWish
	b, ok := able[Scaler](s, w, noReading)
	if !ok || !read(w, r, &q) {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	v, err := b.Measure(ctx, q)
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
	if b, ok := s.cfg.Bench.(Scaler); ok {
		ctx, cancel := context.WithTimeout(r.Context(), bodyWait)
		defer cancel()
		vs, err := b.Vessels(ctx)
		if err != nil {
			s.failed(w, "list the vessels", err)
			return
		}
		for _, v := range vs {
			all = append(all, vesselOf(v))
		}
	}
	answer(w, http.StatusOK, all)
}
