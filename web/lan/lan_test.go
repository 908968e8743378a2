package lan

import (
	"net"
	"net/netip"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWhoReachesWhat(t *testing.T) {
	for _, a := range Addresses() {
		assert.False(t, a.IsLoopback() || a.IsUnspecified() || a.IsLinkLocalUnicast() || a.Is4In6(), a)
	}
	assert.Empty(t, Reached(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 7410}))
	assert.Empty(t, Reached(&net.TCPAddr{IP: net.IPv6loopback, Port: 7410}))
	assert.Empty(t, Reached(&net.UnixAddr{}))
	assert.Equal(t, []netip.AddrPort{netip.MustParseAddrPort("192.168.1.20:7410")}, Reached(&net.TCPAddr{IP: net.IPv4(192, 168, 1, 20), Port: 7410}))
	for _, any := range []net.IP{net.IPv4zero, net.IPv6unspecified} {
		for _, a := range Reached(&net.TCPAddr{IP: any, Port: 7410}) {
			assert.EqualValues(t, 7410, a.Port())
			assert.Contains(t, Addresses(), a.Addr())
		}
	}
}
