package web

import (
	"context"
	"errors"
	"net/http"
)

// Book is what the pages need of the record. Masses are decimal strings in
// grams, with the digits of the scale.
type Book interface {
	// Batches lists all, the newest first.
	Batches(ctx context.Context) ([]BatchRow, error)
	// Batch gives one as made; an error with ErrNoBatch in its chain when there is
	// none of that mark.
	Batch(ctx context.Context, mark string) (BatchMade, error)
	// Compare sets two beside each other.
	Compare(ctx context.Context, a, b string) (Comparison, error)
}

// ErrNoBatch means that the record has no batch of that mark.
var ErrNoBatch = errors.New("no batch of that mark in the record")

// BatchRow is one batch in the list.
type BatchRow struct {
	Mark      string `json:"mark"`
	Title     string `json:"title"`
	By        string `json:"by"`
	Started   string `json:"started"` // RFC 3339
	Ended     string `json:"ended"`   // RFC 3339; "" while open
	Base      string `json:"base"`    // planned, g
	Done      int    `json:"done"`    // materials delivered
	Of        int    `json:"of"`
	Off       int    `json:"off"` // materials outside their band
	Simulated bool   `json:"simulated"`
}

// BatchMade is one batch as made beside as planned.
type BatchMade struct {
	BatchRow
	Recipe string     `json:"recipe"`
	Lines  []LineMade `json:"lines"`
	Water  *LineMade  `json:"water"` // the first water, shares in percent of everything dry; null: it was no step
	Facts  []FactRow  `json:"facts"` // in order
	Words  []string   `json:"words"` // what a reader should know of the whole
	Hash   string     `json:"hash"`  // SHA-256 of the closing line; "" while open
	Verify []string   `json:"verify"`
}

// LineMade is one material of a batch.
type LineMade struct {
	Material  string `json:"material"`
	As        string `json:"as"`
	Role      string `json:"role"`
	Scale     string `json:"scale"`
	Target    string `json:"target"`
	Low       string `json:"low"`
	High      string `json:"high"`
	Delivered string `json:"delivered"`
	Deviation string `json:"deviation"` // delivered minus target, signed
	// Bands is the deviation in thousandths of the half band: 1000 stands on the mark.
	Bands   int    `json:"bands"`
	U       string `json:"u"`
	Planned string `json:"planned"` // percent of the base
	Share   string `json:"share"`   // percent of the delivered base
	Verdict string `json:"verdict"` // under, in, over, skipped, ""
}

// FactRow is one line of the record, told in a sentence.
type FactRow struct {
	Seq   uint64 `json:"seq"`
	At    string `json:"at"`
	Kind  string `json:"kind"`
	By    string `json:"by"`
	Words string `json:"words"`
	Hash  string `json:"hash"` // SHA-256 of the line
}

// Comparison is two batches side by side.
type Comparison struct {
	A     BatchRow      `json:"a"`
	B     BatchRow      `json:"b"`
	Lines []CompareLine `json:"lines"`
	Words []string      `json:"words"`
}

// CompareLine is one material of two batches, as percent of the delivered base.
type CompareLine struct {
	Material   string `json:"material"`
	A          string `json:"a"` // "" where it has none
	B          string `json:"b"`
	Difference string `json:"difference"` // B minus A, signed
	U          string `json:"u"`          // joint
	Differs    bool   `json:"differs"`    // beyond U
}

func (s *Server) haveBook(w http.ResponseWriter) bool {
	if s.cfg.Book == nil {
		refuse(w, http.StatusNotFound, "no record is kept here")
		return false
	}
	return true
}

func (s *Server) getBook(w http.ResponseWriter, r *http.Request) {
	if !s.haveBook(w) {
		return
	}
	rows, err := s.cfg.Book.Batches(r.Context())
	if rows == nil {
		rows = []BatchRow{}
	}
	s.fromBook(w, rows, err)
}

func (s *Server) getBatch(w http.ResponseWriter, r *http.Request) {
	if !s.haveBook(w) {
		return
	}
	made, err := s.cfg.Book.Batch(r.Context(), r.PathValue("mark"))
	s.fromBook(w, made, err)
}

func (s *Server) getCompare(w http.ResponseWriter, r *http.Request) {
	if !s.haveBook(w) {
		return
	}
	a, b := r.FormValue("a"), r.FormValue("b")
	if a == "" || b == "" {
		refuse(w, http.StatusBadRequest, "two marks are needed: /api/compare?a=…&b=…")
		return
	}
	c, err := s.cfg.Book.Compare(r.Context(), a, b)
	s.fromBook(w, c, err)
}

func (s *Server) fromBook(w http.ResponseWriter, v any, err error) {
	switch {
	case errors.Is(err, ErrNoBatch):
		refuse(w, http.StatusNotFound, err.Error())
	case err != nil:
		s.cfg.Log.Error().Err(err).Msg("read the record")
		refuse(w, http.StatusInternalServerError, err.Error())
	default:
		answer(w, http.StatusOK, v)
	}
}
