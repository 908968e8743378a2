package scale

import (
	"bytes"
	"context"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"github.com/stretchr/testify/require"

	"tared/protocol"
)

// wire is a pretended port with an instrument behind it, for tests under fake
// time. Unlike a pseudo-terminal it has a setting: bytes sent at another one come
// out as garbage.
type wire struct {
	mu      sync.Mutex
	in      chan []byte // to the reader
	line    protocol.Line
	sent    protocol.Line // what the instrument speaks; zero: any setting hears it
	usb     string
	dead    chan struct{}
	closed  bool
	wrote   []byte
	answers func(q []byte) []byte
	deaf    bool // writes fail
	sets    int  // changes of setting
	opens   int
	fail    error // of Open
	closes  int
	patient bool // touched by the reader alone
}

func newWire() *wire { return &wire{in: make(chan []byte, 1000), dead: make(chan struct{})} }

func (w *wire) Open(_ string, l protocol.Line) (Port, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.fail != nil {
		return nil, w.fail
	}
	w.opens++
	w.closed, w.patient = false, false
	w.line = l
	for len(w.in) > 0 {
		<-w.in
	}
	return &wirePort{w}, nil
}

type wirePort struct{ *wire }

func (p *wirePort) Read(b []byte) (int, error) {
	select {
	case <-p.dead:
		return 0, io.EOF
	default:
	}
	wait := 200 * time.Millisecond
	if p.patient {
		wait = time.Second
	}
	t := time.NewTimer(wait)
	defer t.Stop()
	select {
	case c := <-p.in:
		return copy(b, p.hear(c)), nil
	case <-p.dead:
		return 0, io.EOF
	case <-t.C:
		return 0, nil
	}
}

// hear gives what a UART makes of bytes sent at another setting, roughly: at
// another speed noise, at another framing the parity bit on top.
func (w *wire) hear(c []byte) []byte {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.sent.Baud == 0 || sameLine(w.sent, w.line) {
		return c
	}
	out := make([]byte, 0, len(c))
	for i, x := range c {
		switch {
		case w.sent.Baud != w.line.Baud:
			x = x*31 + byte(i)*97 + 128
		case w.sent.Bits == 7 && w.line.Bits == 8 && w.line.Parity == 'N':
			x = withParity(string(rune(x)), w.sent.Parity == 'O')[0]
		default:
			x = 0
		}
		out = append(out, x)
	}
	return out
}

func (p *wirePort) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.deaf {
		return 0, io.ErrShortWrite
	}
	p.wrote = append(p.wrote, b...)
	if p.answers != nil {
		if a := p.answers(b); a != nil {
			p.in <- a
		}
	}
	return len(b), nil
}

func (p *wirePort) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closes++
	p.closed = true
	return nil
}

func (p *wirePort) SetLine(l protocol.Line) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.line = l
	p.sets++
	for len(p.in) > 0 {
		<-p.in
	}
	return nil
}

func (p *wirePort) USB() string { return p.usb }

func (p *wirePort) Patient(is bool) { p.patient = is }

func (w *wire) send(s string) { w.in <- []byte(s) }

// questions gives how many bytes were written.
func (w *wire) questions() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.wrote)
}

func (w *wire) count(n *int) int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return *n
}

// updates collects what an instrument feeds.
type updates struct {
	mu  sync.Mutex
	all []Update
}

func (u *updates) feed(x Update) {
	u.mu.Lock()
	u.all = append(u.all, x)
	u.mu.Unlock()
}

func (u *updates) seen() []Update {
	u.mu.Lock()
	defer u.mu.Unlock()
	return slices.Clone(u.all)
}

func (u *updates) take() []Update {
	u.mu.Lock()
	defer u.mu.Unlock()
	all := u.all
	u.all = nil
	return all
}

func (u *updates) last(t testing.TB) Update {
	t.Helper()
	u.mu.Lock()
	defer u.mu.Unlock()
	require.NotEmpty(t, u.all)
	return u.all[len(u.all)-1]
}

// run starts an instrument and gives the way to end it and wait for its end.
func run(t testing.TB, i *Instrument) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- i.Run(ctx) }()
	return func() {
		cancel()
		require.NoError(t, <-done)
	}
}

func spec(t testing.TB, s string) Config {
	t.Helper()
	c, err := ParseSpec(s)
	require.NoError(t, err)
	return c
}

var quietLog = zerolog.Nop()

// bus is a set of wires under the names that they have now.
type bus struct {
	mu sync.Mutex
	at map[string]*wire
}

func (b *bus) set(path string, w *wire) {
	b.mu.Lock()
	b.at[path] = w
	b.mu.Unlock()
}

func (b *bus) Open(path string, l protocol.Line) (Port, error) {
	b.mu.Lock()
	w := b.at[path]
	b.mu.Unlock()
	if w == nil {
		return nil, &PortError{Port: path, Kind: ErrNoPort}
	}
	return w.Open(path, l)
}

func (b *bus) Locate(usb string) (string, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for path, w := range b.at {
		if w.usb == usb {
			return path, true
		}
	}
	return "", false
}

func (b *bus) List() ([]Found, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var all []Found
	for path, w := range b.at {
		if w != nil {
			all = append(all, Found{Port: path, USB: w.usb, Resource: "serial"})
		}
	}
	return all, nil
}

// stars is a format as a user might declare one: "*12.3 g" and a line feed.
var stars = &protocol.Format{
	Name: "stars",
	Split: func(b []byte, _ bool) (int, []byte) {
		if i := bytes.IndexByte(b, '\n'); i >= 0 {
			return i + 1, b[:i]
		}
		return 0, nil
	},
	Parse: func(b []byte, r *protocol.Reading) error {
		digits, unit, _ := strings.Cut(string(b), " ")
		d, ok := protocol.ParseDigits([]byte(strings.TrimPrefix(digits, "*")))
		if !ok || digits[0] != '*' {
			return protocol.ErrForeign
		}
		r.Status, r.Value, r.Unit = protocol.OK, d, protocol.Unit(unit)
		return nil
	},
}
