package web

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"time"

	"tared/session/photo"
	"tared/session/text"
)

// photoPath is where a photograph is sent to, its bytes as they are.
const photoPath = "/api/photo"

// photoWait is how long a phone may take to send one, in a far corner of a workshop.
const photoWait = 2 * time.Minute

// isPhoto reports whether a content type may be that of a photograph. What the bytes
// are is looked at later; this keeps a plain form of a foreign page out.
func isPhoto(contentType string) bool {
	return contentType == "image/jpeg" || contentType == "image/png"
}

// postPhoto takes a photograph in and answers with its name, for an entry that is
// sent after it. One that no entry names harms nothing.
func (s *site) postPhoto(w http.ResponseWriter, r *http.Request) {
	if s.cfg.Photos == "" {
		refuse(w, r, http.StatusNotFound, text.New("page.photo.none-kept"))
		return
	}
	if r.ContentLength > photo.MaxFile {
		// Not a byte of it is read.
		w.Header().Set("Connection", "close")
		refuse(w, r, http.StatusRequestEntityTooLarge, text.New("page.photo.too-large", text.Count("is", int(r.ContentLength>>20)), text.Count("most", photo.MaxFile>>20)))
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), photoWait)
	defer cancel()
	select {
	case s.photos <- struct{}{}:
		defer func() { <-s.photos }()
	case <-ctx.Done():
		refuse(w, r, http.StatusServiceUnavailable, text.New("page.photo.busy"))
		return
	}
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(photoWait))
	name, err := photo.Keep(s.cfg.Photos, r.Body)
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		refuse(w, r, http.StatusRequestEntityTooLarge, text.New("page.photo.larger", text.Count("most", photo.MaxFile>>20)))
	case errors.Is(err, photo.ErrPhoto):
		refuse(w, r, http.StatusUnprocessableEntity, text.Of(err))
	case err != nil:
		s.done(w, r, nil, err)
	default:
		answer(w, http.StatusOK, map[string]string{"name": name})
	}
}

// getPhoto gives a photograph as what it is and nothing else: a browser must not
// take it for a page.
func (s *site) getPhoto(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	f, err := photo.Open(s.cfg.Photos, name)
	if s.cfg.Photos == "" || errors.Is(err, fs.ErrNotExist) {
		if err == nil {
			_ = f.Close()
		}
		refuse(w, r, http.StatusNotFound, text.New("page.photo.no-such"))
		return
	}
	if err != nil {
		s.done(w, r, nil, err)
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
	h.Set("Cache-Control", "private,max-age=31536000,immutable") // the name is its hash
}

// getSmall gives a small copy, for pages that show many.
func (s *site) getSmall(w http.ResponseWriter, r *http.Request) {
	b, err := photo.Small(s.cfg.Photos, r.PathValue("name"))
	switch {
	case s.cfg.Photos == "" || errors.Is(err, fs.ErrNotExist):
		refuse(w, r, http.StatusNotFound, text.New("page.photo.no-such"))
	case err != nil:
		s.done(w, r, nil, err)
	default:
		picture(w, "image/jpeg")
		_, _ = w.Write(b)
	}
}
