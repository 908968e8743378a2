package web

import (
	"context"
	"net/http"

	"tared/session/book"
	"tared/session/photo"
)

// Serial is what the page of a series needs of a book: the series to which a batch
// belongs. An error has ErrNoBatch in its chain where it belongs to none.
type Serial interface {
	Series(ctx context.Context, mark string) (book.Series, error)
}

func (s *Server) seriesRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /series/{mark}", s.page("series"))
	mux.HandleFunc("GET /api/series/{mark}", s.getSeries)
}

// getSeries lays a series out. Photographs that are not on the disk are left out,
// and said.
func (s *Server) getSeries(w http.ResponseWriter, r *http.Request) {
	b, ok := s.cfg.Book.(Serial)
	if !ok {
		refuse(w, http.StatusNotFound, "this record knows nothing of series")
		return
	}
	all, err := b.Series(r.Context(), r.PathValue("mark"))
	if err != nil {
		s.fromBook(w, nil, err)
		return
	}
	type answered struct {
		book.Series
		Lost []string `json:"lost"` // photographs that are named and are not there
	}
	a := answered{all, []string{}}
	for _, g := range all.Grids {
		for _, row := range g.Cells {
			for k := range row {
				there := []string{}
				for _, name := range row[k].Photos {
					f, err := photo.Open(s.cfg.Photos, name)
					if s.cfg.Photos == "" || err != nil {
						a.Lost = append(a.Lost, name)
						continue
					}
					_ = f.Close()
					there = append(there, name)
				}
				row[k].Photos = there
			}
		}
	}
	answer(w, http.StatusOK, a)
}
