package web

import (
	"net/http"

	"tared/session/book"
	"tared/session/photo"
)

func (s *Server) seriesRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /series/{mark}", s.page("series"))
	mux.HandleFunc("GET /api/series/{mark}", s.withBook(s.getSeries))
}

// getSeries lays a series out. Photographs that are not on the disk are left out,
// and said.
func (s *Server) getSeries(w http.ResponseWriter, r *http.Request) {
	all, err := s.cfg.Book.Series(r.Context(), r.PathValue("mark"))
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
