package scale

import (
	"cmp"
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"tared/protocol"
)

const (
	// lookEvery is how often a Lookout looks for ports that came or went.
	lookEvery = time.Second
	// LookFor is how long a Lookout listens after it was asked to.
	LookFor = 2 * time.Minute
	// rawFrames is how many of the last pieces that came are shown.
	rawFrames = 3
)

// Lookout listens to the ports of a machine that nobody has set up, and tells live what
// comes, understood or not. Like a Survey it sends nothing.
type Lookout struct {
	// Always has it listen all the time; else it does for LookFor after Look.
	Always bool
	// Taken are ports, by path, lasting path or identity (see ByUSB), that are not its
	// business.
	Taken   []string
	Formats []*protocol.Format // the user's own
	Log     zerolog.Logger

	ports Machine

	look chan struct{} // somebody asked

	mu    sync.Mutex
	until time.Time
	heard map[string]*onPort // by path
}

// onPort is what is heard at one port.
type onPort struct {
	sighting   Sighting
	instrument *Instrument
	contact    Contact
	stop       context.CancelFunc
}

// NewLookout makes one and starts nothing.
func NewLookout(ports Machine) *Lookout {
	return &Lookout{ports: ports, look: make(chan struct{}, 1), heard: map[string]*onPort{}}
}

// Look has it listen for a while from now on.
func (l *Lookout) Look(now time.Time) {
	l.mu.Lock()
	l.until = now.Add(LookFor)
	l.mu.Unlock()
	select {
	case l.look <- struct{}{}:
	default:
	}
}

// Looking tells whether it listens now.
func (l *Lookout) Looking(now time.Time) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.Always || now.Before(l.until)
}

// Seen gives what is heard now, by port. Raw is the last text that came, as Go writes a
// string, without its quotes; Capture is there for each.
func (l *Lookout) Seen() []Sighting {
	l.mu.Lock()
	defer l.mu.Unlock()
	var all []Sighting
	for _, p := range l.heard {
		s := p.sighting
		var raw []byte
		frames := p.instrument.heard.all()
		for _, f := range frames[max(0, len(frames)-rawFrames):] {
			raw = append(raw, f.Raw...)
		}
		s.Raw = strings.Trim(fmt.Sprintf("%+q", raw), `"`)
		var b strings.Builder
		_ = p.instrument.SaveCapture(&b) // a Builder takes everything
		s.Capture = b.String()
		if s.Format == "" && len(p.contact.heard) > 0 {
			m := p.contact.State()
			s.Met = &m
		}
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b Sighting) int { return cmp.Compare(a.Port, b.Port) })
	return all
}

// Try begins the trial of what is proposed for a port, see Contact.Try; false where nothing
// is heard there.
func (l *Lookout) Try(now time.Time, port string, weight protocol.Mass, unit protocol.Unit) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	p := l.heard[port]
	if p == nil || len(p.contact.heard) == 0 {
		return false
	}
	p.contact.Try(now, weight, unit)
	l.until = now.Add(LookFor)
	return true
}

// Run listens until ctx ends, and has let go of every port when it returns.
func (l *Lookout) Run(ctx context.Context) error {
	var group sync.WaitGroup
	defer group.Wait()
	defer l.keep(nil)
	for ctx.Err() == nil {
		var found []Found
		looking := l.Looking(time.Now())
		if looking {
			all, err := l.ports.List()
			if err != nil {
				l.Log.Warn().Err(err).Msg("the ports cannot be listed")
			}
			found = slices.DeleteFunc(all, l.taken)
		}
		l.keep(found)
		for _, f := range found {
			l.listen(ctx, f, &group)
		}
		if looking {
			pause(ctx, lookEvery)
			continue
		}
		select { // an idle machine may sleep
		case <-l.look:
		case <-ctx.Done():
		}
	}
	return nil
}

func (l *Lookout) taken(f Found) bool {
	return slices.ContainsFunc(l.Taken, func(port string) bool {
		if real, err := filepath.EvalSymlinks(port); err == nil {
			port = real
		}
		return port == f.Port || f.Lasting != "" && port == f.Lasting || f.USB != "" && port == usbPort+f.USB
	})
}

// keep lets go of the ports that are not among found.
func (l *Lookout) keep(found []Found) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for port, p := range l.heard {
		if !slices.ContainsFunc(found, func(f Found) bool { return f.Port == port && f.USB == p.sighting.USB }) {
			p.stop()
			delete(l.heard, port)
		}
	}
}

// listen begins to listen to a port that is not listened to.
func (l *Lookout) listen(ctx context.Context, f Found, group *sync.WaitGroup) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.heard[f.Port] != nil {
		return
	}
	p := &onPort{sighting: Sighting{Found: f}}
	c := Config{Name: strings.ReplaceAll(filepath.Base(f.Port), " ", "-"), Port: f.Port, Formats: l.Formats}
	p.instrument = New(c, l.ports, func(u Update) {
		l.mu.Lock()
		defer l.mu.Unlock()
		p.sighting.take(u)
	}, l.Log.Level(zerolog.ErrorLevel)) // whoever looks sees it
	p.instrument.contact = func(now time.Time, line protocol.Line, b []byte) {
		l.mu.Lock()
		defer l.mu.Unlock()
		p.contact.Hear(now, line, b)
	}
	ctx, p.stop = context.WithCancel(ctx)
	l.heard[f.Port] = p
	group.Go(func() { _ = p.instrument.Run(ctx) }) // its errors are for configurations
}

// take notes what an update says.
func (s *Sighting) take(u Update) {
	s.Line, s.Format, s.Why = u.Identity.Line, u.Identity.Format, u.Why
	switch {
	case !u.HasReading:
		s.Shows = ""
	case u.Reading.Status == protocol.OK:
		s.Shows = strings.TrimSpace(u.Reading.Value.String() + " " + string(u.Reading.Unit))
	default:
		s.Shows = u.Reading.Status.String()
	}
}
