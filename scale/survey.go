package scale

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"sync"

	"github.com/rs/zerolog"

	"tared/protocol"
)

// Machine is what a survey needs of the ports of a machine.
type Machine interface {
	Opener
	List() ([]Found, error)
}

// Sighting is what was found at one port.
type Sighting struct {
	Found
	Line   string `json:"line,omitempty"`   // as "9600 8N1"
	Format string `json:"format,omitempty"` //
	Shows  string `json:"shows,omitempty"`  // what the scale shows now, with its unit, or its state
	Raw    string `json:"raw,omitempty"`    // the line that says so, as a Go string literal
	Why    string `json:"why,omitempty"`    // what stands in the way, and the mend; "" when it can be read
	// Capture is the last frames as they came, see Instrument.SaveCapture.
	Capture string `json:"-"`
	// Met is the first contact, where it is not understood and something came.
	Met *Met `json:"-"`
}

// Spec gives the words that name this scale on the command line, "" where it was
// not understood.
func (s Sighting) Spec() string {
	if s.Format == "" {
		return ""
	}
	spec := fmt.Sprintf("name=%s,%s,format=%s", filepath.Base(s.Port), s.Where(), s.Format)
	if baud, framing, ok := strings.Cut(s.Line, " "); ok {
		spec += ",baud=" + baud + ",line=" + framing
	}
	return spec
}

// Where names the port, as key and value of --scale, by what lasts longest: the device itself, the place where it is
// plugged in, the name it has today.
func (f Found) Where() string {
	switch {
	case HasSerial(f.USB) && !strings.ContainsAny(f.USB, ",="):
		return "usb=" + f.USB
	case f.Lasting != "":
		return "port=" + f.Lasting
	}
	return "port=" + f.Port
}

// Survey looks at every port of the machine at once, by listening alone: nothing
// is ever sent. It ends when each port was understood, cannot be opened or has
// been silent for DefaultSilence or sends text in no known format, or when ctx ends; a port that talks nonsense at
// every setting takes the whole time, so give ctx a limit of half a minute.
// formats are the user's own, beside protocol.All. m may be nil.
func Survey(ctx context.Context, ports Machine, m *Memory, formats []*protocol.Format, log zerolog.Logger) ([]Sighting, error) {
	found, err := ports.List()
	if err != nil {
		return nil, fmt.Errorf("list the ports: %w", err)
	}
	out := make([]Sighting, len(found))
	var wg sync.WaitGroup
	for k, f := range found {
		wg.Go(func() { out[k] = sight(ctx, ports, f, m, formats, log) })
	}
	wg.Wait()
	return out, nil
}

// sight runs an instrument on the port until it is clear what is there.
func sight(ctx context.Context, o Opener, f Found, m *Memory, formats []*protocol.Format, log zerolog.Logger) Sighting {
	s := Sighting{Found: f, Why: "nothing was understood in the time given"}
	ctx, done := context.WithCancel(ctx)
	defer done()
	c := Config{Name: strings.ReplaceAll(filepath.Base(f.Port), " ", "-"), Port: f.Port, Formats: formats}
	over := false
	i := New(c, o, func(u Update) {
		switch {
		case over:
		case u.HasReading:
			over = true
			s.take(u)
			s.Raw = fmt.Sprintf("%+q", u.Reading.Raw)
		case u.Link == Lost, strings.HasPrefix(u.Why, quiet), strings.HasPrefix(u.Why, unknownText):
			over = true
			s.Why = u.Why
		case u.Link == Waiting:
			s.Why = u.Why
		}
		if over {
			done()
		}
	}, log)
	i.Remember(m)
	var met Contact
	i.contact = met.Hear
	if err := i.Run(ctx); err != nil {
		s.Why = err.Error()
	}
	var b strings.Builder
	_ = i.SaveCapture(&b) // a Builder takes everything
	s.Capture = b.String()
	if s.Format == "" && len(met.heard) > 0 {
		m := met.State()
		s.Met = &m
	}
	return s
}
