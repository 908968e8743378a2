package web

import (
	"context"
	"errors"
	"net/http"
	"slices"

	"tared/session"
	"tared/session/book"
)

// Book is what the pages need of the record. Masses are decimal strings in
// grams, with the digits of the scale.
type Book interface {
	// Batches lists those that a search finds, the newest first; all where nothing
	// is searched for. A search that cannot be read gives a *session.Refusal.
	Batches(ctx context.Context, find string) ([]BatchRow, error)
	// Batch gives one as made; an error with ErrNoBatch in its chain when there is
	// none of that mark.
	Batch(ctx context.Context, mark string) (BatchMade, error)
	// Compare sets two or more beside each other. Marks that cannot be compared
	// give a *session.Refusal.
	Compare(ctx context.Context, marks ...string) (Comparison, error)
	// Series gives the series to which a batch belongs; ErrNoBatch where it belongs
	// to none.
	Series(ctx context.Context, mark string) (book.Series, error)
	// After tells what came after a batch was closed. Wanted is a gravity, "" for
	// none; one that cannot be read gives a *session.Refusal.
	After(ctx context.Context, mark, wanted string) (book.After, error)
	// Was gives an entry of a batch; the zero value when there is none.
	Was(ctx context.Context, mark string, seq uint64) book.Was
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
	Off       int    `json:"off"`   // materials outside their band
	Worst     string `json:"worst"` // of their verdicts: over, under, skipped, in, ""
	Early     bool   `json:"early"` // closed before everything was in
	Simulated bool   `json:"simulated"`
}

// BatchMade is one batch as made beside as planned.
type BatchMade struct {
	BatchRow
	Recipe string     `json:"recipe"`
	Lines  []LineMade `json:"lines"`
	Series string     `json:"series"` // mark of the tub whose series it belongs to; "": to none
	Water  *LineMade  `json:"water"`  // the first water, shares in percent of everything dry; null: it was no step
	// Picture is SVG of the deviations in units of the band, Slim the same for a
	// narrow page.
	Picture string    `json:"picture"`
	Slim    string    `json:"picture_slim"`
	Pours   []PourRow `json:"pours"` // the portions, in order
	Facts   []FactRow `json:"facts"` // in order
	Words   []string  `json:"words"` // what a reader should know of the whole
	Hash    string    `json:"hash"`  // SHA-256 of the closing line; "" while open
	Verify  []string  `json:"verify"`
}

// LineMade is one material of a batch. Of one of which nothing was weighed, all that
// tells what went in is empty.
type LineMade struct {
	Material  string `json:"material"`
	As        string `json:"as"`
	Role      string `json:"role"`
	Scale     string `json:"scale"`
	Target    string `json:"target"`
	Low       string `json:"low"`
	High      string `json:"high"`
	Delivered string `json:"delivered"`
	Dry       string `json:"dry,omitempty"` // of it, where it was moist
	Bag       string `json:"bag,omitempty"` // where it came from, and what it cost, in words
	Deviation string `json:"deviation"`     // delivered minus target, signed
	// Bands is the deviation in thousandths of the half band: 1000 stands on the mark.
	Bands   int    `json:"bands"`
	U       string `json:"u"`
	Planned string `json:"planned"` // percent of the base
	Share   string `json:"share"`   // percent of the delivered base
	Verdict string `json:"verdict"` // under, in, over, skipped, none (closed with nothing in), ""
	// Was and WasShare are what the closing line has, where it was corrected since;
	// Corrected tells by whom and why.
	Was       string   `json:"was,omitempty"`
	WasShare  string   `json:"was_share,omitempty"`
	Corrected []string `json:"corrected,omitempty"`
}

// PourRow is one portion in full.
type PourRow struct {
	Seq       uint64   `json:"seq"`
	Material  string   `json:"material"`
	Before    string   `json:"before"` // "" where it was typed
	After     string   `json:"after"`
	Delivered string   `json:"delivered"`
	Corrected string   `json:"corrected"` // what counts, where it was amended
	NewU      string   `json:"new_u"`     // of that
	Why       string   `json:"why"`       // who amended it, and why; "" where nobody did
	U         string   `json:"u"`
	Verdict   string   `json:"verdict"`
	Typed     string   `json:"typed"`     // who typed it; "" where the scale was heard
	Confirmed string   `json:"confirmed"` // the second person, where one looked
	Void      bool     `json:"void"`
	Raw       []string `json:"raw"`
	Picture   string   `json:"picture"` // SVG of the pour; "" where no trace was kept
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

// Comparison is batches side by side; the first is the one that the others are
// held against.
type Comparison struct {
	Batches  []BatchRow    `json:"batches"`
	Lines    []CompareLine `json:"lines"`
	Explains bool          `json:"explains"` // the weighing can explain a difference of the tiles
	Verdict  string        `json:"verdict"`
	Causes   []string      `json:"causes"` // the likeliest first
	Notes    []string      `json:"notes"`
}

// CompareLine is one material of all of them, as percent of the delivered base.
type CompareLine struct {
	Material string        `json:"material"`
	Addition bool          `json:"addition"`
	Cells    []CompareCell `json:"cells"`   // one for each batch
	Differs  bool          `json:"differs"` // some two of them, beyond U
}

// CompareCell is one material of one batch.
type CompareCell struct {
	Mark       string `json:"mark"`
	As         string `json:"as"`    // what went in instead
	Share      string `json:"share"` // "" where it has none
	U          string `json:"u"`
	Was        string `json:"was,omitempty"` // the share when the batch was closed, where the amount was corrected since
	Difference string `json:"difference"`    // less the first batch, signed
	JointU     string `json:"difference_u"`
	Differs    bool   `json:"differs"` // from the first batch
}

// withBook lets a request through where a record is kept.
func (s *Server) withBook(next http.HandlerFunc) http.HandlerFunc {
	if s.cfg.Book != nil {
		return next
	}
	return func(w http.ResponseWriter, _ *http.Request) { refuse(w, http.StatusNotFound, "no record is kept here") }
}

func (s *Server) getBook(w http.ResponseWriter, r *http.Request) {
	rows, err := s.cfg.Book.Batches(r.Context(), r.FormValue("find"))
	if rows == nil {
		rows = []BatchRow{}
	}
	s.fromBook(w, rows, err)
}

func (s *Server) getBatch(w http.ResponseWriter, r *http.Request) {
	made, err := s.cfg.Book.Batch(r.Context(), r.PathValue("mark"))
	s.fromBook(w, made, err)
}

func (s *Server) getCompare(w http.ResponseWriter, r *http.Request) {
	marks := marksOf(r)
	if len(marks) < 2 {
		refuse(w, http.StatusBadRequest, "two marks or more are needed: /api/compare?mark=…&mark=…")
		return
	}
	c, err := s.cfg.Book.Compare(r.Context(), marks...)
	s.fromBook(w, c, err)
}

// marksOf gives the batches that a request names: mark=…&mark=…, or a=…&b=….
func marksOf(r *http.Request) (marks []string) {
	q := r.URL.Query()
	for _, name := range []string{"a", "b", "mark"} {
		for _, m := range q[name] {
			if m != "" && !slices.Contains(marks, m) {
				marks = append(marks, m)
			}
		}
	}
	return marks
}

func (s *Server) fromBook(w http.ResponseWriter, v any, err error) {
	var refusal *session.Refusal
	switch {
	case errors.As(err, &refusal):
		refuse(w, http.StatusConflict, refusal.Words)
	case errors.Is(err, ErrNoBatch):
		refuse(w, http.StatusNotFound, err.Error())
	case err != nil:
		s.cfg.Log.Error().Err(err).Msg("read the record")
		refuse(w, http.StatusInternalServerError, err.Error())
	default:
		answer(w, http.StatusOK, v)
	}
}
