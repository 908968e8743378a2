package web

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"time"

	"tared/session/photo"
)

// photoPath is where a photograph is sent to, its bytes as they are.
const photoPath = "/api/photo"

// photoWait is how long a phone may take to send one, in a far corner of a workshop.
const photoWait = 2 * time.Minute

// photoSlots is how many photographs may be on their way at a time: each is held in
// memory until it is checked.
const photoSlots = 3

func (s *Server) photoRoutes(mux *http.ServeMux) {
	mux.HandleFunc("POST "+photoPath, s.command(s.postPhoto))
	mux.HandleFunc("GET /photo/{name}", s.getPhoto)
	mux.HandleFunc("GET /photo/small/{name}", s.getSmall)
}

// isPhoto tells whether a content type may be that of a photograph. What the bytes
// are is looked at later; this keeps a plain form of a foreign page out.
func isPhoto(contentType string) bool {
	return contentType == "image/jpeg" || contentType == "image/png"
}

// postPhoto takes a photograph in and answers with its name, for an entry that is
// sent after it. One that no entry names harms nothing.
func (s *Server) postPhoto(w http.ResponseWriter, r *http.Request) {
	if s.cfg.Photos == "" {
		refuse(w, http.StatusNotFound, "no photographs are kept here")
		return
	}
	if r.ContentLength > photo.MaxFile {
		// Not a byte of it is read.
		w.Header().Set("Connection", "close")
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("the photograph has %d MB: want %d MB at most", r.ContentLength>>20, photo.MaxFile>>20))
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), photoWait)
	defer cancel()
	select {
	case s.photos <- struct{}{}:
		defer func() { <-s.photos }()
	case <-ctx.Done():
		refuse(w, http.StatusServiceUnavailable, "too many photographs at a time: send it again")
		return
	}
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(photoWait))
	name, err := photo.Keep(s.cfg.Photos, r.Body)
	_ = http.NewResponseController(w).SetReadDeadline(time.Time{})
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("the photograph is larger than %d MB", photo.MaxFile>>20))
	case errors.Is(err, photo.ErrPhoto):
		refuse(w, http.StatusUnprocessableEntity, err.Error())
	case err != nil:
		s.cfg.Log.Error().Err(err).Msg("keep a photograph")
		refuse(w, http.StatusInternalServerError, err.Error())
	default:
		answer(w, http.StatusOK, map[string]string{"name": name})
	}
}

// getPhoto gives a photograph as what it is and nothing else: a browser must not
// take it for a page.
func (s *Server) getPhoto(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	f, err := photo.Open(s.cfg.Photos, name)
	if s.cfg.Photos == "" || errors.Is(err, fs.ErrNotExist) {
		if err == nil {
			_ = f.Close()
		}
		refuse(w, http.StatusNotFound, "there is no photograph of that name")
		return
	}
	if err != nil {
		s.cfg.Log.Error().Err(err).Msg("open a photograph")
		refuse(w, http.StatusInternalServerError, err.Error())
		return
	}
	defer func() { _ = f.Close() }()
	picture(w, photo.Type(name))
	http.ServeContent(w, r, "", time.Time{}, f)
}

func picture(w http.ResponseWriter, kind string) {
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'; sandbox")
	h.Set("Cache-Control", "private, max-age=31536000, immutable") // the name is its hash
}

// getSmall gives a small copy, for pages that show many.
func (s *Server) getSmall(w http.ResponseWriter, r *http.Request) {
	b, err := photo.Small(s.cfg.Photos, r.PathValue("name"))
	switch {
	case s.cfg.Photos == "" || errors.Is(err, fs.ErrNotExist):
		refuse(w, http.StatusNotFound, "there is no photograph of that name")
	case err != nil:
		s.cfg.Log.Error().Err(err).Msg("make a photograph small")
		refuse(w, http.StatusInternalServerError, err.Error())
	default:
		picture(w, "image/jpeg")
		_, _ = w.Write(b)
	}
}
