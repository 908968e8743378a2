package web

import "net/http"

// rightsKey is that of a request which came by the control socket.
type rightsKey struct{}

// byRights reports whether the rights of a file let somebody in: he needs no pairing, and
// no page of another site can send his requests.
func byRights(r *http.Request) bool { return r.Context().Value(rightsKey{}) != nil }
