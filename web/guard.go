package web

import (
	"context"
	"mime"
	"net/http"
	"net/url"
	"strings"

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
		if c := callerOf(r); !byRights(r) {
			ctx, end := context.WithCancel(r.Context())
			defer end()
			c.device, c.old = s.devices.Of(r)
			defer s.hold(c.device, end)()
			r = r.WithContext(context.WithValue(ctx, callerKey{}, c))
		}
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !byRights(r) && !ownHost(s.hosts, s.cfg.Name.Now(), r.Host) {
			refuse(w, r, http.StatusForbidden, text.New("page.api.other-host", text.Name("host", hostOf(r.Host)), text.Name("url", byDigits(r))))
			return
		}
		if c := callerOf(r); s.cfg.TLS != nil && !c.secure && !c.local && !plainToo(r.URL.Path) {
			s.leadOn(w, r)
			return
		}
		if !accepts(w, r, cross) {
			return
		}
		if !s.mayRead(r) && !openToAll(r.URL.Path) {
			s.turnAway(w, r)
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

// accepts takes what asks to read, and what sends something from our own page in a form that
// no other page can send; else it answers why not.
func accepts(w http.ResponseWriter, r *http.Request, cross *http.CrossOriginProtection) bool {
	switch r.Method {
	case http.MethodGet, http.MethodHead:
		// Any page may ask for these: it cannot see the answer, and no GET route changes
		// anything but the language of who asks.
	case http.MethodPost:
		if err := cross.Check(r); err != nil || !sameOrigin(r) {
			refuse(w, r, http.StatusForbidden, text.New("page.api.other-page"))
			return false
		}
		t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
		most := int64(maxBody)
		switch {
		case r.URL.Path == photoPath && (err != nil || !isPhoto(t)):
			refuse(w, r, http.StatusUnsupportedMediaType, text.New("page.api.send-photo"))
			return false
		case r.URL.Path == photoPath:
			most = photo.MaxFile
		case r.URL.Path == restorePath && (err != nil || !isCopy(t)):
			refuse(w, r, http.StatusUnsupportedMediaType, text.New("page.api.send-copy"))
			return false
		case r.URL.Path == restorePath:
			most = mostCopy
		case err != nil || t != "application/json":
			refuse(w, r, http.StatusUnsupportedMediaType, text.New("page.api.send-json"))
			return false
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
	default:
		w.Header().Set("Allow", "GET,HEAD,POST")
		refuse(w, r, http.StatusMethodNotAllowed, text.New("page.api.method"))
		return false
	}
	return true
}

// openToAll reports whether a path is for those too who may not read: what pairing takes,
// whether the program lives, and what makes the page one that can be installed, which a
// browser asks for without its cookie.
func openToAll(path string) bool {
	switch path {
	case pairPath, "/api/pair", "/manifest.webmanifest":
		return true
	}
	return plainToo(path)
}

// plainToo reports whether a path is answered without TLS as well: what a device needs to
// trust the page, and what tells nothing.
func plainToo(path string) bool {
	switch path {
	case trustPath, trustPath + ".crt", "/healthz", "/readyz", "/favicon.ico", "/apple-touch-icon.png":
		return true
	}
	return strings.HasPrefix(path, "/static/")
}

// trustPath is the page that tells how a device comes to trust this bench.
const trustPath = "/ca"

// leadOn leads who came without TLS to the same place with it. What somebody sent is not
// taken: it was there to be read by all.
func (s *site) leadOn(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		refuse(w, r, http.StatusForbidden, text.New("page.api.plain"))
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	http.Redirect(w, r, "https://"+r.Host+r.URL.RequestURI(), http.StatusTemporaryRedirect)
}

// pairPath is the page on which a browser is paired.
const pairPath = "/pair"

// turnAway shows a person where to pair, and then brings back to where he was going.
func (s *site) turnAway(w http.ResponseWriter, r *http.Request) {
	if wantsPage(r) {
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, pairPath+"?"+url.Values{"to": {r.URL.RequestURI()}}.Encode(), http.StatusSeeOther)
		return
	}
	refuse(w, r, http.StatusUnauthorized, text.New("page.api.not-for-all"))
}
