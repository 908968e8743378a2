package web

import (
	"context"
	"errors"
	"net/http"

	"tared/session"
	"tared/session/folder"
	"tared/session/recipe"
	"tared/session/stock"
)

func (s *Server) shelfRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /stock", s.page("stock"))
	mux.HandleFunc("GET /api/shelf", s.getShelf)
	mux.HandleFunc("POST /api/keep", s.command(s.postKeep))
}

// lotRow is a lot as the pages show it.
type lotRow struct {
	stock.Lot
	Trouble string `json:"trouble,omitempty"`
}

func (s *Server) getShelf(w http.ResponseWriter, r *http.Request) {
	out := struct {
		Lots    []lotRow      `json:"lots"`
		Recipes []folder.Kept `json:"recipes"`
	}{[]lotRow{}, []folder.Kept{}}
	lots, recipes, err := s.cfg.Bench.Shelved(r.Context())
	if err != nil {
		s.failed(w, "read the stock", err)
		return
	}
	for _, l := range lots {
		out.Lots = append(out.Lots, lotRow{l, l.Trouble()})
	}
	out.Recipes = append(out.Recipes, recipes...)
	answer(w, http.StatusOK, out)
}

// postKeep records a lot, a correction of one, or a recipe.
func (s *Server) postKeep(w http.ResponseWriter, r *http.Request) {
	var k session.KeepRequest
	if !read(w, r, &k) {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), bodyWait)
	defer cancel()
	got, err := s.cfg.Bench.Keep(ctx, k)
	var wrong *recipe.Error
	switch {
	case errors.As(err, &wrong):
		answer(w, http.StatusUnprocessableEntity, fault{err.Error(), linesOf(err)})
	case err != nil:
		s.failed(w, "keep it", err)
	default:
		answer(w, http.StatusOK, got)
	}
}
