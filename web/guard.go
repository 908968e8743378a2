package web

import (
	"mime"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"

	"tared/session/photo"
)

// policy lets the page load and reach its own server and nothing else.
const policy = "default-src 'self'; base-uri 'none'; object-src 'none'; form-action 'self'; frame-ancestors 'none'"

// maxBody is the most bytes of a command: the longest recipe text, written as
// JSON, has room in it.
const maxBody = 256 << 10

// guard stands before every route. It refuses names that are not ours, for a
// foreign name that resolves to this address makes a foreign page same-origin
// and passes every check of Origin; and it refuses changes asked by other pages.
func (s *Server) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !s.ownHost(r.Host) {
			refuse(w, http.StatusForbidden, "this machine does not go by the name in the address; "+
				"open the page by its address in digits, or name the host in the configuration")
			return
		}
		switch r.Method {
		case http.MethodGet, http.MethodHead:
			// Reading may be asked by anyone: a foreign page cannot see the answer, and
			// no GET route changes anything.
		case http.MethodPost:
			if err := cross.Check(r); err != nil || !sameOrigin(r) {
				refuse(w, http.StatusForbidden, "refused: the request comes from another page")
				return
			}
			t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
			most := int64(maxBody)
			switch {
			case r.URL.Path == photoPath && (err != nil || !isPhoto(t)):
				refuse(w, http.StatusUnsupportedMediaType, "send a photograph as it is, with Content-Type: image/jpeg or image/png")
				return
			case r.URL.Path == photoPath:
				most = photo.MaxFile
			case err != nil || t != "application/json":
				refuse(w, http.StatusUnsupportedMediaType, "send JSON, with Content-Type: application/json")
				return
			}
			r.Body = http.MaxBytesReader(w, r.Body, most)
		default:
			h.Set("Allow", "GET, HEAD, POST")
			refuse(w, http.StatusMethodNotAllowed, "only GET and POST are known here")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// hostNames gives the names that this machine goes by. Names ending in .local
// are spread by multicast in the local network only.
func hostNames(own string, more []string) map[string]bool {
	names := map[string]bool{"localhost": true}
	add := func(n string) {
		if n = strings.ToLower(strings.TrimSuffix(strings.TrimSpace(n), ".")); n != "" {
			names[n] = true
		}
	}
	if own != "" {
		add(own)
		add(strings.TrimSuffix(own, ".local") + ".local")
	}
	for _, n := range more {
		add(n)
	}
	return names
}

// ownHost tells whether a Host header names this machine. An address in digits
// always does: a rebinding needs a name.
func (s *Server) ownHost(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	} else if strings.HasPrefix(host, "[") && strings.HasSuffix(host, "]") {
		host = host[1 : len(host)-1]
	}
	if _, err := netip.ParseAddr(host); err == nil {
		return true
	}
	return s.hosts[strings.ToLower(strings.TrimSuffix(host, "."))]
}

// sameOrigin tells whether a request comes from our own page. A request with no
// Origin comes from no page: a program on the same machine, which the guard of
// commands by pairing is for.
func sameOrigin(r *http.Request) bool {
	origins := r.Header.Values("Origin")
	if len(origins) == 0 {
		return true
	}
	if len(origins) > 1 {
		return false
	}
	u, err := url.Parse(origins[0])
	if err != nil || u.Scheme != "http" && u.Scheme != "https" {
		return false
	}
	return strings.EqualFold(u.Host, r.Host)
}
