package lan

import (
	"bytes"
	"context"
	"errors"
	"net"
	"net/netip"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/dns/dnsmessage"
)

// group is where names are asked for (RFC 6762, section 3).
var group = &net.UDPAddr{IP: net.IPv4(224, 0, 0, 251), Port: 5353}

// everywhere is what listens on all addresses.
var everywhere = &net.TCPAddr{IP: net.IPv4zero, Port: 7410}

// ask asks by a socket of its own, as any resolver of the network, and gives the address that
// it is told; zero where nobody answers in time.
func ask(t *testing.T, name string) netip.Addr {
	t.Helper()
	c, err := net.ListenUDP("udp4", &net.UDPAddr{})
	require.NoError(t, err)
	defer func() { _ = c.Close() }()
	q := dnsmessage.Message{Header: dnsmessage.Header{ID: 7}, Questions: []dnsmessage.Question{{Name: dnsmessage.MustNewName(name + "."), Type: dnsmessage.TypeA, Class: dnsmessage.ClassINET}}}
	b, err := q.Pack()
	require.NoError(t, err)
	for range 4 {
		_, err = c.WriteTo(b, group)
		require.NoError(t, err)
		require.NoError(t, c.SetReadDeadline(time.Now().Add(500*time.Millisecond)))
		in := make([]byte, 9000)
		n, _, err := c.ReadFrom(in)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			continue
		}
		require.NoError(t, err)
		var a dnsmessage.Message
		require.NoError(t, a.Unpack(in[:n]))
		require.NotEmpty(t, a.Answers)
		return netip.AddrFrom4(a.Answers[0].Body.(*dnsmessage.AResource).A)
	}
	return netip.Addr{}
}

// called runs a name and waits until it is known.
func called(t *testing.T, n *Name, at net.Addr) (name string, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	ran := make(chan error, 1)
	go func() { ran <- n.Run(ctx, at) }()
	name = n.Settled(ctx)
	return name, func() {
		cancel()
		require.NoError(t, <-ran)
	}
}

// multicast gives the place of this machine, or leaves the test out.
func multicast(t *testing.T) place {
	t.Helper()
	on := placeOf(everywhere)
	if len(on.by) == 0 || on.six {
		t.Skip("this machine has no network by which it can be found")
	}
	return on
}

func signed(context.Context) string { return "KA" }

// Whoever asks in the network is told where the page is, as long as it runs. A second bench
// takes the name that has its sign, and says so.
func TestTheNameIsAnswered(t *testing.T) {
	on := multicast(t)
	var log bytes.Buffer
	const wanted = "tared-try-one"
	n := NewName(wanted, signed, zerolog.New(&log))
	assert.Empty(t, n.Now(), "before it runs")
	name, stop := called(t, n, everywhere)
	require.Equal(t, wanted+".local", name, log.String())
	got := ask(t, name)
	assert.Contains(t, Addresses(), got)
	assert.Zero(t, ask(t, "tared-try-other.local"), "nobody else's name is answered for")
	stop()
	assert.Empty(t, n.Now())

	another := on // a machine that is not this one
	another.alone = netip.MustParseAddr("192.0.2.77")
	quiet, err := answer(another, wanted+".local")
	require.NoError(t, err)
	defer func() { _ = quiet() }()
	log.Reset()
	second := NewName(wanted, signed, zerolog.New(&log))
	name, stop = called(t, second, everywhere)
	defer stop()
	assert.Equal(t, wanted+"-ka.local", name)
	assert.Contains(t, log.String(), "another machine has that name")
	assert.Contains(t, Addresses(), ask(t, name))
}

// Two on one machine share a name, for its address is the same.
func TestANameOfThisMachineIsNotTaken(t *testing.T) {
	multicast(t)
	first, end := called(t, NewName("tared-try-two", signed, zerolog.Nop()), everywhere)
	defer end()
	second, stop := called(t, NewName("tared-try-two", signed, zerolog.Nop()), everywhere)
	defer stop()
	assert.Equal(t, first, second)
}

// A page that only this machine reaches has no name, and one that is bound to an address is
// named by the interface of that address alone.
func TestTheNameIsWhereThePageIs(t *testing.T) {
	for _, at := range []net.Addr{&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 1}, &net.TCPAddr{IP: net.IPv6loopback, Port: 1}, &net.UnixAddr{}} {
		assert.Empty(t, placeOf(at).by)
		name, stop := called(t, NewName("tared-try-three", signed, zerolog.Nop()), at)
		assert.Empty(t, name)
		stop()
	}
	for _, a := range Addresses() {
		on := placeOf(&net.TCPAddr{IP: a.AsSlice(), Port: 1})
		assert.Equal(t, a, on.alone)
		for _, i := range on.by {
			all, err := i.Addrs()
			require.NoError(t, err)
			assert.True(t, slices.ContainsFunc(all, func(n net.Addr) bool { return n.(*net.IPNet).IP.Equal(a.AsSlice()) }), "%v %v", i.Name, a)
		}
	}
	assert.Empty(t, (*Name)(nil).Settled(t.Context()), "no name at all")
}

// Where no multicast is, nothing breaks, and the log has one line of it.
func TestWithoutMulticastThereIsNoName(t *testing.T) {
	var log bytes.Buffer
	n := NewName("tared-try-four", signed, zerolog.New(&log))
	n.where = func(net.Addr) place { return place{by: []net.Interface{{Index: 1 << 20, Name: "none", MTU: 1500}}} }
	name, stop := called(t, n, everywhere)
	assert.Empty(t, name)
	stop()
	assert.Contains(t, log.String(), "the page has no name in this network")
	assert.Equal(t, 1, bytes.Count(log.Bytes(), []byte("\n")))
}
