package web

import (
	"context"
	"mime"
	"net/http"

	"tared/session/photo"
	"tared/session/text"
)

// policy lets the page load and reach its own server and nothing else.
const policy = "default-src 'self'; base-uri 'none'; object-src 'none'; form-action 'self'; frame-ancestors 'none'"

// guard stands before every route. It refuses names that are not ours, for a
// foreign name that resolves to this address makes a foreign page same-origin
// and passes every check of Origin; and it refuses changes asked by other pages. Strangers it holds
// to their budget.
func (s *site) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r = called(r.WithContext(context.WithValue(text.With(r.Context(), wished(r)), faultKey{}, s.fault)), s.cfg.Proxies)
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !byRights(r) && !ownHost(s.hosts, r.Host) {
			refuse(w, r, http.StatusForbidden, text.New("page.api.other-host", text.Name("host", hostOf(r.Host)), text.Name("url", byDigits(r))))
			return
		}
		switch r.Method {
		case http.MethodGet, http.MethodHead:
			// Reading may be asked by anyone: a foreign page cannot see the answer, and
			// no GET route changes anything but the language of who asks.
		case http.MethodPost:
			if err := cross.Check(r); err != nil || !sameOrigin(r) {
				refuse(w, r, http.StatusForbidden, text.New("page.api.other-page"))
				return
			}
			t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
			most := int64(maxBody)
			switch {
			case r.URL.Path == photoPath && (err != nil || !isPhoto(t)):
				refuse(w, r, http.StatusUnsupportedMediaType, text.New("page.api.send-photo"))
				return
			case r.URL.Path == photoPath:
				most = photo.MaxFile
			case r.URL.Path == restorePath && (err != nil || !isCopy(t)):
				refuse(w, r, http.StatusUnsupportedMediaType, text.New("page.api.send-copy"))
				return
			case r.URL.Path == restorePath:
				most = mostCopy
			case err != nil || t != "application/json":
				refuse(w, r, http.StatusUnsupportedMediaType, text.New("page.api.send-json"))
				return
			}
			r.Body = http.MaxBytesReader(w, r.Body, most)
		default:
			h.Set("Allow", "GET,HEAD,POST")
			refuse(w, r, http.StatusMethodNotAllowed, text.New("page.api.method"))
			return
		}
		if !s.mayCommand(r) {
			s.turns.stranger(w, r, next)
			return
		}
		if c, ok := r.Context().Value(connKey{}).(*heldConn); ok {
			s.conns.know(c.place)
		}
		next.ServeHTTP(w, r)
	})
}
