package web

import (
	"context"
	"net/http"
	"strconv"

	"tared/session"
	"tared/session/book"
	"tared/session/text"
)

// What came after a batch was closed: water, firings, tiles, corrections.

// getCurve draws the curve of a firing: the page's policy lets no picture in that
// does not come from here.
func (s *site) getCurve(w http.ResponseWriter, r *http.Request) {
	a, err := s.cfg.Book.After(r.Context(), r.PathValue("mark"), "")
	if err != nil {
		s.done(w, r, nil, err)
		return
	}
	for _, e := range a.Entries {
		if e.Curve != "" && strconv.FormatUint(e.Seq, 10)+".svg" == r.PathValue("seq") {
			write(w, http.StatusOK, ".svg", []byte(e.Curve))
			return
		}
	}
	refuse(w, r, http.StatusNotFound, text.New("page.api.no-curve"))
}

// addEntry records something of a batch that is closed.
func (s *site) addEntry(ctx context.Context, e session.EntryRequest) (any, error) {
	seq, err := s.cfg.Bench.AddEntry(ctx, enteredIn(e), func(seq uint64) book.Amendable { return s.cfg.Book.Amendable(ctx, e.Batch, seq) })
	return map[string]uint64{"seq": seq}, err
}
