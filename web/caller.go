package web

import (
	"context"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// rightsKey is that of a request which came by the control socket.
type rightsKey struct{}

// byRights reports whether the rights of a file let somebody in: he needs no pairing, and
// no page of another site can send his requests.
func byRights(r *http.Request) bool { return r.Context().Value(rightsKey{}) != nil }

// caller is who asks, as far as the way tells on which a request came.
type caller struct {
	local  bool   // a program on this machine, through nobody else
	secure bool   // nobody on the way can read along, as far as is known
	device string // that it proves to be; empty: none
	old    bool   // its cookie is
}

type callerKey struct{}

func callerOf(r *http.Request) caller {
	c, _ := r.Context().Value(callerKey{}).(caller)
	return c
}

// forwarding are the headers by which a proxy says that it stands between, RFC 7239 and 9110
// for the first two; the others are custom of many proxies (from memory).
var forwarding = []string{"Forwarded", "Via", "X-Real-Ip", "X-Client-Ip", "X-Cluster-Client-Ip", "X-Proxyuser-Ip", "X-Original-Forwarded-For", "X-Original-Host",
	"True-Client-Ip", "Client-Ip", "Cdn-Loop", "X-Amzn-Trace-Id", "Fastly-Client-Ip", "Proxy-Connection", "X-Rewrite-Url", "X-Original-Url"}

var forwardingPrefixes = []string{"X-Forwarded-", "Cf-", "X-Envoy-", "X-Proxy-", "Tailscale-"}

// forwarded reports whether a request came through somebody else. No browser speaks HTTP/1.0,
// which proxies speak that say nothing of themselves.
func forwarded(r *http.Request) bool {
	if !r.ProtoAtLeast(1, 1) {
		return true
	}
	for name := range r.Header {
		if slices.Contains(forwarding, name) || slices.ContainsFunc(forwardingPrefixes, func(p string) bool { return strings.HasPrefix(name, p) }) {
			return true
		}
	}
	return false
}

// called finds who asks. Only of a proxy that was named are the address, the scheme and the
// host believed that it tells; through none is anybody local.
func called(r *http.Request, proxies []netip.Prefix) *http.Request {
	c := caller{secure: r.TLS != nil}
	switch peer, err := netip.ParseAddrPort(r.RemoteAddr); {
	case byRights(r):
		c = caller{local: true, secure: true}
	case err != nil: // nothing is known of it
	case !forwarded(r):
		c.local = peer.Addr().Unmap().IsLoopback() && localName(r.Host)
	case trusted(proxies, peer.Addr()):
		r = r.Clone(r.Context())
		r.RemoteAddr = client(r.Header, proxies, peer).String()
		c.secure = c.secure || strings.EqualFold(only(r.Header, "X-Forwarded-Proto"), "https")
		if host := only(r.Header, "X-Forwarded-Host"); host != "" {
			r.Host = host
		}
	}
	return r.WithContext(context.WithValue(r.Context(), callerKey{}, c))
}

func trusted(proxies []netip.Prefix, a netip.Addr) bool {
	return slices.ContainsFunc(proxies, func(p netip.Prefix) bool { return p.Contains(a.Unmap()) })
}

// only gives the value of a header that has one.
func only(h http.Header, name string) string {
	if v := h.Values(name); len(v) == 1 && !strings.Contains(v[0], ",") {
		return strings.TrimSpace(v[0])
	}
	return ""
}

// client gives the last address on the way that is no proxy of ours: those before it anybody
// could have written.
func client(h http.Header, proxies []netip.Prefix, peer netip.AddrPort) netip.AddrPort {
	way := strings.Split(strings.Join(h.Values("X-Forwarded-For"), ","), ",")
	if h.Get("X-Forwarded-For") == "" {
		way = nil
		for _, hop := range strings.Split(strings.Join(h.Values("Forwarded"), ","), ",") {
			for pair := range strings.SplitSeq(hop, ";") {
				if name, v, _ := strings.Cut(strings.TrimSpace(pair), "="); strings.EqualFold(name, "for") {
					way = append(way, strings.Trim(v, `"`))
				}
			}
		}
	}
	last := peer.Addr()
	for _, hop := range slices.Backward(way) {
		a, err := netip.ParseAddr(hostOf(strings.TrimSpace(hop)))
		if err != nil {
			break
		}
		if last = a; !trusted(proxies, a) {
			break
		}
	}
	return netip.AddrPortFrom(last, peer.Port())
}

// localName reports whether a Host header names this machine as only its own programs do.
func localName(host string) bool {
	host = hostOf(host)
	a, err := netip.ParseAddr(host)
	return err == nil && a.Unmap().IsLoopback() || strings.EqualFold(host, "localhost")
}
