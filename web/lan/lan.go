// Package lan knows the addresses, and the name, by which others in the network reach this machine.
package lan

import (
	"net"
	"net/netip"
	"slices"
)

// Addresses are those of this machine that others can use, the likeliest first: the one by
// which it would itself leave the network, then those of IPv4, then those of IPv6. What
// only this machine or one cable knows is not among them.
func Addresses() []netip.Addr {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var out []netip.Addr
	for _, a := range all {
		n, ok := a.(*net.IPNet)
		if !ok {
			continue
		}
		ip, ok := netip.AddrFromSlice(n.IP)
		if ip = ip.Unmap(); ok && (ip.IsPrivate() || ip.IsGlobalUnicast()) && !ip.IsLoopback() {
			out = append(out, ip)
		}
	}
	first := way()
	slices.SortStableFunc(out, func(a, b netip.Addr) int {
		rank := func(ip netip.Addr) int {
			switch {
			case ip == first:
				return 0
			case ip.Is4() && ip.IsPrivate():
				return 1
			case ip.Is4():
				return 2
			case ip.IsPrivate():
				return 3
			}
			return 4
		}
		return rank(a) - rank(b)
	})
	return slices.Compact(out)
}

// way is the address by which this machine would leave the network. Nothing is sent for it;
// 192.0.2.1 is nobody's (RFC 5737).
func way() netip.Addr {
	c, err := net.Dial("udp4", "192.0.2.1:9")
	if err != nil {
		return netip.Addr{}
	}
	defer func() { _ = c.Close() }()
	return c.LocalAddr().(*net.UDPAddr).AddrPort().Addr().Unmap()
}

// Reached are the addresses with port at which others reach what listens on a; none where
// only this machine does.
func Reached(a net.Addr) (all []netip.AddrPort) {
	t, ok := a.(*net.TCPAddr)
	if !ok {
		return nil
	}
	at := t.AddrPort()
	ip := at.Addr().Unmap()
	switch {
	case ip.IsLoopback():
	case !ip.IsUnspecified():
		all = append(all, netip.AddrPortFrom(ip, at.Port()))
	default:
		for _, one := range Addresses() {
			if ip.Is6() || one.Is4() {
				all = append(all, netip.AddrPortFrom(one, at.Port()))
			}
		}
	}
	return all
}
