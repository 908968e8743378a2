package lan

import (
	"context"
	"io"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/pion/logging"
	"github.com/pion/mdns/v2"
	"github.com/rs/zerolog"
	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

// domain is that of the names that machines of one network tell each other (RFC 6762, section 3).
const domain = ".local"

const (
	probeFor = 750 * time.Millisecond // others have time to say that a name is theirs (RFC 6762, section 8.1)
	look     = 15 * time.Second       // whether the interfaces are still the same
	claimFor = 10 * time.Minute       // then it is asked again whether somebody else has the name
)

// Name is the name by which this machine is found in its own network, by multicast DNS (RFC
// 6762), on the interfaces by which others reach it and no others. Where somebody else has
// the name, that of the bench's sign is taken. A nil Name is none. It is safe for use by many.
type Name struct {
	wanted string
	sign   func(context.Context) string
	log    zerolog.Logger

	now   atomic.Pointer[string]
	known chan struct{} // closes when it is known for the first time whether there is one
	once  sync.Once
	where func(net.Addr) place
	said  string // why there was none, or which one there was
}

// NewName makes one that is called wanted, which has no domain; sign gives that of the bench.
func NewName(wanted string, sign func(context.Context) string, log zerolog.Logger) *Name {
	return &Name{wanted: wanted, sign: sign, log: log, where: placeOf, known: make(chan struct{})}
}

// Now is the name with its domain; "" where there is none, or not yet.
func (n *Name) Now() string {
	if n == nil || n.now.Load() == nil {
		return ""
	}
	return *n.now.Load()
}

// Settled is Now, but waits until there was time to find out, or ctx ends.
func (n *Name) Settled(ctx context.Context) string {
	if n != nil {
		select {
		case <-n.known:
		case <-ctx.Done():
		}
	}
	return n.Now()
}

// Run answers for the name until ctx ends, for what listens on at. A network that does not
// let it is tried again; nothing else depends on it.
func (n *Name) Run(ctx context.Context, at net.Addr) error {
	defer n.settle("")
	for ctx.Err() == nil {
		on := n.where(at)
		name, err := n.claim(ctx, on)
		if ctx.Err() != nil {
			break
		}
		var stop func() error
		if err == nil && name != "" {
			stop, err = answer(on, name)
		}
		if err != nil {
			name = ""
		}
		n.tell(name, err)
		n.settle(name)
		wait(ctx, func() bool { return n.where(at).same(on) })
		if stop != nil {
			_ = stop() // what is asked until it is answered again is asked again
		}
	}
	return nil
}

func (n *Name) settle(name string) {
	n.now.Store(&name)
	n.once.Do(func() { close(n.known) })
}

// tell logs what is new: which name it is, or why there is none.
func (n *Name) tell(name string, err error) {
	say := name
	if err != nil {
		say = err.Error()
	}
	if say == n.said {
		return
	}
	n.said = say
	switch {
	case err != nil:
		n.log.Warn().Err(err).Msg("the page has no name in this network; its addresses serve")
	case name == "":
		n.log.Info().Msg("the page has no name in this network; its addresses serve")
	case name != n.wanted+domain:
		n.log.Warn().Str("name", name).Str("taken", n.wanted+domain).Msg("another machine has that name; local_name in the settings keeps them apart")
	default:
		n.log.Info().Str("name", name).Msg("the page has a name in this network")
	}
}

// claim gives the name that nobody else has: the one that we had, the one that is wanted, or
// that with the bench's sign; "" where all are taken or nobody is to be reached.
func (n *Name) claim(ctx context.Context, on place) (string, error) {
	if len(on.by) == 0 {
		return "", nil
	}
	for k, name := range []string{n.Now(), n.wanted + domain, ""} {
		if k == 2 {
			if sign := n.sign(ctx); sign != "" {
				name = n.wanted + "-" + strings.ToLower(sign) + domain
			}
		}
		if name == "" {
			continue
		}
		if taken, err := taken(ctx, on, name); err != nil || !taken {
			return name, err
		}
	}
	return "", nil
}

// wait returns when same does not hold any more, when a claim is old, or with ctx.
func wait(ctx context.Context, same func() bool) {
	t := time.NewTicker(look)
	defer t.Stop()
	for left := claimFor; left > 0; left -= look {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			if !same() {
				return
			}
		}
	}
}

// place is where something is reached: the interfaces, and the address where it is one alone.
type place struct {
	by    []net.Interface
	alone netip.Addr // zero: those of the interfaces
	six   bool       // by IPv6, for there is no other
}

func (p place) same(o place) bool {
	return p.alone == o.alone && p.six == o.six && slices.EqualFunc(p.by, o.by, func(a, b net.Interface) bool { return a.Index == b.Index })
}

// placeOf gives where others reach what listens on at; no interfaces where they do not, or
// where no multicast is.
func placeOf(at net.Addr) (p place) {
	var all []netip.Addr
	for _, a := range Reached(at) {
		all = append(all, a.Addr())
	}
	if len(all) == 0 {
		return p
	}
	p.six = !slices.ContainsFunc(all, netip.Addr.Is4)
	if t, ok := at.(*net.TCPAddr); ok && !t.IP.IsUnspecified() || p.six {
		p.alone = all[0]
	}
	interfaces, _ := net.Interfaces() // none, as of a machine without a network
	for _, i := range interfaces {
		has, err := i.Addrs()
		if err != nil || i.Flags&net.FlagUp == 0 || i.Flags&net.FlagMulticast == 0 {
			continue
		}
		if slices.ContainsFunc(has, func(a net.Addr) bool {
			n, ok := a.(*net.IPNet)
			if !ok {
				return false
			}
			ip, _ := netip.AddrFromSlice(n.IP)
			ip = ip.Unmap()
			return ip.Is4() != p.six && slices.Contains(all, ip)
		}) {
			p.by = append(p.by, i)
		}
	}
	return p
}

// open gives a connection of the library that answers for names, or asks alone.
func open(on place, names ...string) (*mdns.Conn, error) {
	// What the library would log nobody could mend; what matters it returns.
	quiet := &logging.DefaultLoggerFactory{Writer: io.Discard, DefaultLogLevel: logging.LogLevelDisabled}
	o := []mdns.ServerOption{mdns.WithInterfaces(on.by...), mdns.WithLoggerFactory(quiet), mdns.WithLocalNames(names...), mdns.WithCacheRefresh(false), mdns.WithQueryInterval(probeFor / 3)}
	if on.alone.IsValid() {
		o = append(o, mdns.WithLocalAddress(on.alone.AsSlice()))
	}
	network, group, kind := "udp4", net.IPv4(224, 0, 0, 251), dnsmessage.TypeA
	if on.six {
		network, group, kind = "udp6", net.ParseIP("ff02::fb"), dnsmessage.TypeAAAA
	}
	c, err := net.ListenUDP(network, &net.UDPAddr{IP: group, Port: 5353}) // RFC 6762, section 3; others of this machine may listen there too
	if err != nil {
		return nil, err
	}
	var four *ipv4.PacketConn
	var six *ipv6.PacketConn
	if on.six {
		six = ipv6.NewPacketConn(c)
	} else {
		four = ipv4.NewPacketConn(c)
	}
	m, err := mdns.NewServer(four, six, append(o, mdns.WithRecordTypes(kind))...)
	if err != nil {
		_ = c.Close()
	}
	return m, err
}

// answer answers for a name until stop is called.
func answer(on place, name string) (stop func() error, err error) {
	c, err := open(on, name)
	if err != nil {
		return nil, err
	}
	return c.Close, nil
}

// taken reports whether a machine other than this one answers for a name.
func taken(ctx context.Context, on place, name string) (bool, error) {
	c, err := open(on)
	if err != nil {
		return false, err
	}
	defer func() { _ = c.Close() }()
	ctx, end := context.WithTimeout(ctx, probeFor)
	defer end()
	_, who, err := c.QueryAddr(ctx, name)
	return err == nil && !slices.Contains(Addresses(), who.WithZone("").Unmap()), nil
}
