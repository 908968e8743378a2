package web

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"time"

	"tared/session"
)

const noRecord = "No record is kept here."

// mostListed is how many batches the page lists; older ones are found by a search.
const mostListed = 200

// drawnPages are the pages that are drawn for each request.
var drawnPages = map[string]*template.Template{"book": drawnPage("book"), "compare": drawnPage("compare")}

func drawnPage(name string) *template.Template {
	return template.Must(template.ParseFS(pageFiles, "page/layout.html", "page/"+name+".html"))
}

// The list of batches and the comparison are drawn here and not in the browser,
// so that searching and comparing work without a script.
type listPage struct {
	Find    string
	Trouble string
	Rows    []listRow
	All     int // of which Rows are the newest
	Most    int
}

type listRow struct {
	BatchRow
	Day, Clock, Tone, Shape, Went string
}

type comparePage struct {
	Comparison
	Trouble string
	Two     bool
}

func (s *Server) bookPage(w http.ResponseWriter, r *http.Request) {
	p := listPage{Find: r.FormValue("find"), Most: mostListed}
	var status int
	if s.cfg.Book == nil {
		p.Trouble, status = noRecord, http.StatusOK
	} else {
		rows, err := s.cfg.Book.Batches(r.Context(), p.Find)
		p.Trouble, status = s.troubleOf(err)
		p.All = len(rows)
		for _, b := range rows[:min(len(rows), mostListed)] {
			p.Rows = append(p.Rows, listed(b))
		}
	}
	s.drawn(w, "book", status, p)
}

func (s *Server) comparePage(w http.ResponseWriter, r *http.Request) {
	var p comparePage
	status := http.StatusBadRequest
	switch marks := marksOf(r); {
	case s.cfg.Book == nil:
		p.Trouble, status = noRecord, http.StatusOK
	case len(marks) < 2:
		p.Trouble = "Two batches or more are needed: tick them in the book."
	default:
		c, err := s.cfg.Book.Compare(r.Context(), marks...)
		p.Comparison, p.Two = c, len(c.Batches) == 2
		p.Trouble, status = s.troubleOf(err)
	}
	s.drawn(w, "compare", status, p)
}

// troubleOf gives what a page says of an error of the record, and its status.
func (s *Server) troubleOf(err error) (string, int) {
	var refusal *session.Refusal
	switch {
	case err == nil:
		return "", http.StatusOK
	case errors.As(err, &refusal):
		return refusal.Words, http.StatusConflict
	case errors.Is(err, ErrNoBatch):
		return err.Error(), http.StatusNotFound
	}
	s.cfg.Log.Error().Err(err).Msg("read the record")
	return err.Error(), http.StatusInternalServerError
}

// drawn answers with a page that is drawn for this request.
func (s *Server) drawn(w http.ResponseWriter, name string, status int, data any) {
	var b bytes.Buffer
	if err := drawnPages[name].ExecuteTemplate(&b, "layout.html", pageData(name, data)); err != nil {
		s.cfg.Log.Error().Err(err).Str("page", name).Msg("draw the page")
		refuse(w, http.StatusInternalServerError, "the page cannot be drawn")
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // a browser that left needs no answer
}

// listed tells how a batch went, in word, shape and tone.
func listed(b BatchRow) listRow {
	l := listRow{BatchRow: b}
	l.Day, l.Clock = day(b.Started)
	switch {
	case b.Ended == "":
		l.Shape, l.Went = "now", fmt.Sprintf("open, %d of %d in", b.Done, b.Of)
	case b.Early:
		l.Shape, l.Went = "skip", fmt.Sprintf("closed early, %d of %d in", b.Done, b.Of)
	case b.Off > 0 && b.Worst == "skipped":
		l.Shape, l.Went = "skip", fmt.Sprintf("%d of %d left out", b.Off, b.Of)
	case b.Off > 0:
		l.Tone = cmp.Or(b.Worst, "over")
		l.Shape, l.Went = l.Tone, fmt.Sprintf("%d of %d out of band", b.Off, b.Of)
	case b.Done < b.Of:
		l.Shape, l.Went = "skip", fmt.Sprintf("closed, %d of %d in", b.Done, b.Of)
	default:
		l.Tone, l.Shape, l.Went = "in", "in", "all in band"
	}
	return l
}

// day writes a time as a date and what the clock said, where it was.
func day(at string) (day, clock string) {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return at, ""
	}
	return t.Format("2 January 2006"), t.Format("15:04")
}
