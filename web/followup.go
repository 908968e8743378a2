package web

import (
	"net/http"
	"strconv"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/text"
)

// What came after a batch was closed: water, firings, tiles, corrections.

func (s *site) getFollowUp(w http.ResponseWriter, r *http.Request) {
	a, err := s.cfg.Book.After(r.Context(), r.PathValue("mark"), r.FormValue("wanted"))
	s.done(w, "read the record", a, err)
}

// getCurve draws the curve of a firing: the page's policy lets no picture in that
// does not come from here.
func (s *site) getCurve(w http.ResponseWriter, r *http.Request) {
	a, err := s.cfg.Book.After(r.Context(), r.PathValue("mark"), "")
	if err != nil {
		s.done(w, "read the record", nil, err)
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
	refuse(w, http.StatusNotFound, text.New("page.api.no-curve"))
}

// postFollowUp records something of a batch that is closed.
func (s *site) postFollowUp(w http.ResponseWriter, r *http.Request) {
	var a session.EntryRequest
	if !read(w, r, &a) {
		return
	}
	ctx, cancel := lasting(r)
	defer cancel()
	seq, err := s.cfg.Bench.AddEntry(ctx, a, func(seq uint64) book.Amendable { return s.cfg.Book.Amendable(r.Context(), a.Batch, seq) })
	s.done(w, "record what came after batch "+a.Batch, map[string]uint64{"seq": seq}, err)
}

// postReading gives what a scale shows now.
func (s *site) postReading(w http.ResponseWriter, r *http.Request) {
	var q struct {
		Scale string `json:"scale"`
	}
	if !read(w, r, &q) {
		return
	}
	got, err := s.cfg.Bench.Read(r.Context(), q.Scale)
	s.done(w, "read the "+q.Scale+" scale", got, err)
}

// postVessel records a vessel.
func (s *site) postVessel(w http.ResponseWriter, r *http.Request) {
	var q session.VesselRequest
	if !read(w, r, &q) {
		return
	}
	ctx, cancel := lasting(r)
	defer cancel()
	v, err := s.cfg.Bench.Measure(ctx, q)
	s.done(w, "record vessel "+q.Name, v, err)
}

func (s *site) getVessels(w http.ResponseWriter, r *http.Request) {
	all, err := s.cfg.Bench.Vessels(r.Context())
	s.done(w, "list the vessels", append([]fact.Vessel{}, all...), err)
}
