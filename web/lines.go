package web

import (
	"compress/gzip"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"tared/session/journal"
	"tared/session/text"
)

// The head of an answer with lines: how many lines the journal has, and the hash of the
// last of them.
const linesHeader, headHeader = "Tared-Lines", "Tared-Head"

// lineWait is how long a reader may take for a part of the lines before he is given up.
const lineWait = 30 * time.Second

// linesQuery says which lines of the journal are wanted.
type linesQuery struct {
	From   uint64 // number of the first line, from 1; one behind the last gives those to come
	Follow bool   // whether the answer goes on with each line that is written, until who asks ends it
}

func linesAsked(r *http.Request) (q linesQuery, err error) {
	q.From = 1
	if s := r.FormValue("from"); s != "" {
		if q.From, err = strconv.ParseUint(s, 10, 64); err != nil || q.From == 0 {
			return q, text.Refuse("page.api.from", text.Name("from", s))
		}
	}
	q.Follow = r.FormValue("follow") == "1"
	return q, nil
}

// getLines gives the journal's own bytes from a line on, the cost of which is that of the
// part that is asked for. Whoever was cut off asks for the line behind the last whole one
// that he has.
func (s *site) getLines(w http.ResponseWriter, r *http.Request) {
	q, err := linesAsked(r)
	if err != nil {
		s.done(w, r, nil, err)
		return
	}
	place, more := s.cfg.Lines.Place()
	w.Header().Set(linesHeader, strconv.FormatUint(place.Lines, 10))
	w.Header().Set(headHeader, place.Head.String())
	f, err := s.cfg.Lines.Open()
	if err != nil {
		s.done(w, r, nil, err)
		return
	}
	defer func() { _ = f.Close() }()
	var at int64
	if q.From > place.Lines+1 {
		err = text.Refuse("journal.no-line", text.Count("line", int(q.From)))
	} else {
		at, err = journal.Seek(f, place.Bytes, q.From)
	}
	if err != nil {
		s.done(w, r, nil, err)
		return
	}
	out := newLineWriter(w, r)
	for {
		if out.take(io.NewSectionReader(f, at, place.Bytes-at), place.Bytes-at) != nil {
			panic(http.ErrAbortHandler) // half of them must not look like all
		}
		at = place.Bytes
		if !q.Follow {
			break
		}
		select {
		case <-more:
		case <-r.Context().Done():
			return
		case <-s.ends:
			return
		}
		if place, more = s.cfg.Lines.Place(); place.Bytes < at {
			return // it was opened anew, and is not the one that was followed
		}
	}
	out.close()
}

// lineWriter writes lines as their reader can take them.
type lineWriter struct {
	http *http.ResponseController
	to   io.Writer
	zip  *gzip.Writer // nil: they go as they are
}

func newLineWriter(w http.ResponseWriter, r *http.Request) *lineWriter {
	h := w.Header()
	h.Set("Content-Type", jsonLines)
	h.Set("Cache-Control", "no-store")
	h.Set("Vary", "Accept-Encoding")
	l := &lineWriter{http: http.NewResponseController(w), to: w}
	if takes(r, "gzip") {
		h.Set("Content-Encoding", "gzip")
		l.zip, _ = gzip.NewWriterLevel(w, gzip.BestSpeed) // that is a level
		l.to = l.zip
	}
	w.WriteHeader(http.StatusOK)
	return l
}

// take sends so many bytes.
func (l *lineWriter) take(from io.Reader, size int64) error {
	for size > 0 {
		_ = l.http.SetWriteDeadline(time.Now().Add(lineWait)) // without it the limit of the server holds
		n, err := io.CopyN(l.to, from, min(size, 256<<10))
		if err != nil {
			return err
		}
		size -= n
	}
	if l.zip != nil {
		if err := l.zip.Flush(); err != nil {
			return err
		}
	}
	return l.http.Flush()
}

func (l *lineWriter) close() {
	if l.zip != nil {
		_ = l.zip.Close() // who left needs no end
	}
}

// takes reports whether an answer may come in a coding (RFC 9110, section 12.5.3).
func takes(r *http.Request, coding string) bool {
	for one := range strings.SplitSeq(strings.Join(r.Header.Values("Accept-Encoding"), ","), ",") {
		name, weight, _ := strings.Cut(one, ";")
		if !strings.EqualFold(strings.TrimSpace(name), coding) {
			continue
		}
		q, given := strings.CutPrefix(strings.TrimSpace(weight), "q=")
		v, err := strconv.ParseFloat(q, 64)
		return !given || err == nil && v > 0
	}
	return false
}
