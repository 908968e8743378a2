package web

import (
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
)

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

// ownHost reports whether a Host header names this machine. An address in digits
// always does: a rebinding needs a name. Local is the one that the local network knows, "" for none.
func ownHost(names map[string]bool, local, host string) bool {
	host = hostOf(host)
	if _, err := netip.ParseAddr(host); err == nil {
		return true
	}
	host = strings.ToLower(strings.TrimSuffix(host, "."))
	return names[host] || host != "" && host == local
}

// otherName is what is shown to who comes by a name that is not ours: where the page is,
// and the name to be allowed.
type otherName struct{ URL, Host string }

// OnlyHere reports whether an address of the page leads everybody to his own machine, as a
// telephone that reads it from a label.
func OnlyHere(link string) bool {
	u, err := url.Parse(link)
	return err == nil && localName(u.Host)
}

// byDigits is the address of the page that needs no name.
func byDigits(r *http.Request) string {
	at := "127.0.0.1"
	if a, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr); ok {
		at = a.String()
	}
	return schemeOf(r.TLS != nil) + at + "/"
}

// schemeOf is that of an address, with what comes behind it.
func schemeOf(secure bool) string {
	if secure {
		return "https://"
	}
	return "http://"
}

// hostOf is a Host header without its port.
func hostOf(host string) string {
	if h, _, err := net.SplitHostPort(host); err == nil {
		return h
	}
	if strings.HasPrefix(host, "[") && strings.HasSuffix(host, "]") {
		return host[1 : len(host)-1]
	}
	return host
}

// sameOrigin reports whether a request comes from our own page. A request with no
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
