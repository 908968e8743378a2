package sim

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"tared/protocol"
)

// Source is what a Line speaks of: a display at a time. World.Scale gives one.
type Source interface {
	// Show gives the display at a time; any goroutine may ask.
	Show(t time.Time) Shown
	// Press presses one of the scale's keys by its Verb, as a command that came
	// over the line does.
	Press(t time.Time, key Verb)
}

// LineOptions say how a Line speaks.
type LineOptions struct {
	Format string
	Rate   float64 // frames a second of virtual time; 0: ten
	// Link is a path at which a link to the pseudo-terminal is kept, so that it is
	// found again after it was unplugged. Empty: none; see Path.
	Link string
	// Terminator replaces CR LF at the end of a frame where an instrument has the
	// choice; empty: as the format is usually sent.
	Terminator string
	// OnAsk keeps it silent until asked with the format's own command.
	OnAsk bool
	// Clock is the clock that paces it; its speed shortens the time between frames.
	Clock Clock
	// Pipe speaks into a pipe inside the program and opens no pseudo-terminal.
	// See Line.Open.
	Pipe bool
}

// Line is the cable of a simulated scale: it writes frames at its rate, obeys
// the commands of its format, and can be pulled out. A listener that does not
// keep up loses whole frames; the scale never waits.
type Line struct {
	src  Source
	opt  LineOptions
	ask  *protocol.Ask
	mu   sync.Mutex // guards what follows
	wire wire       // nil: unplugged
	pull bool       // Unplug was called
	over bool       // Run has ended
	drop uint64     // frames that nobody took
	said uint64     // frames written
	heed []byte     // bytes of a command not yet complete
}

// wire is one cable as long as it is plugged in.
type wire interface {
	// put writes a whole frame, or nothing and false where there is no room.
	put(frame []byte) bool
	// get reads what the other side sent, without waiting longer than a moment.
	get(p []byte) (int, error)
	path() string
	close() error
}

// errNobody says that no bytes came.
var errNobody = errors.New("nothing came")

// NewLine opens a line and plugs it in; it starts nothing. Run makes it speak
// and, at its end, takes everything away. Without a Run, call Close.
func NewLine(src Source, o LineOptions) (*Line, error) {
	if _, ok := encoders[o.Format]; !ok {
		_, err := Encode(o.Format, Shown{})
		return nil, err
	}
	if o.Rate == 0 {
		o.Rate = 10
	}
	if !(o.Rate > 0 && o.Rate <= 200) {
		return nil, fmt.Errorf("simulated line: rate %v: want a number of frames a second up to 200", o.Rate)
	}
	if o.Clock.speed == 0 {
		c, err := NewClock(1)
		if err != nil {
			return nil, err
		}
		o.Clock = c
	}
	l := &Line{src: src, opt: o}
	if f, ok := protocol.Lookup(o.Format); ok {
		l.ask = f.Ask
	}
	if o.OnAsk && (l.ask == nil || len(l.ask.Weight) == 0) {
		return nil, fmt.Errorf("simulated line: format %q has no command that asks for the weight", o.Format)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if err := l.plug(); err != nil {
		return nil, err
	}
	return l, nil
}

// Path is where the line can be opened: the link where one was asked for, else
// the pseudo-terminal of the moment. Empty while unplugged without a link, and
// for a pipe.
func (l *Line) Path() string {
	if l.opt.Link != "" {
		return l.opt.Link
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.wire == nil {
		return ""
	}
	return l.wire.path()
}

// Open gives the listener's end of a line that was made as a pipe. It reads like
// a port: it waits up to 200 ms, and no bytes are (0, nil). It fails while the
// line is unplugged.
func (l *Line) Open() (io.ReadWriteCloser, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.wire == nil {
		return nil, errors.New("simulated line: it is unplugged: plug it in again")
	}
	p, ok := l.wire.(*pipe)
	if !ok {
		return nil, fmt.Errorf("simulated line: it is a pseudo-terminal: open %s", l.wire.path())
	}
	return p.listen(), nil
}

// Unplug pulls the cable: the pseudo-terminal hangs up and its link is gone.
func (l *Line) Unplug() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.pull = true
	return l.unplug()
}

// Replug puts it in again: a new pseudo-terminal, the same link.
func (l *Line) Replug() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.pull = false
	return l.plug()
}

// Close takes the line away. Run does it at its end.
func (l *Line) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.over = true
	return l.unplug()
}

// Counts tells how many frames went out and how many nobody took.
func (l *Line) Counts() (said, dropped uint64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.said, l.drop
}

func (l *Line) plug() error {
	switch {
	case l.over:
		return errors.New("simulated line: it has ended")
	case l.wire != nil:
		return nil
	case l.opt.Pipe:
		l.wire = newPipe()
		return nil
	}
	w, err := openPTY()
	if err != nil {
		return err
	}
	if l.opt.Link != "" {
		if err := relink(w.path(), l.opt.Link); err != nil {
			return errors.Join(err, w.close())
		}
	}
	l.wire, l.heed = w, nil
	return nil
}

func (l *Line) unplug() error {
	if l.wire == nil {
		return nil
	}
	var gone error
	if l.opt.Link != "" && !l.opt.Pipe {
		// Only our own link: another line may have taken the path meanwhile.
		if to, err := os.Readlink(l.opt.Link); err == nil && to == l.wire.path() {
			gone = os.Remove(l.opt.Link)
		}
	}
	err := errors.Join(gone, l.wire.close())
	l.wire = nil
	return err
}

// relink points link at path in one move, so that there is no moment without it.
// It replaces a link and nothing else.
func relink(path, link string) error {
	if fi, err := os.Lstat(link); err == nil && fi.Mode()&os.ModeSymlink == 0 {
		return fmt.Errorf("simulated line: %s is there and is not a link: choose another path", link)
	}
	tmp := fmt.Sprintf("%s.%d", link, os.Getpid())
	if err := os.Symlink(path, tmp); err != nil {
		return fmt.Errorf("simulated line: link %s: %w", link, err)
	}
	if err := os.Rename(tmp, link); err != nil {
		return errors.Join(fmt.Errorf("simulated line: link %s: %w", link, err), os.Remove(tmp))
	}
	return nil
}

// Run speaks until ctx ends, then unplugs. It looks at the cable of the Shown as
// well: what a World's hands unplug is unplugged here.
func (l *Line) Run(ctx context.Context) (err error) {
	defer func() { err = errors.Join(err, l.Close()) }()
	every := time.Duration(float64(time.Second) / l.opt.Rate)
	period := l.opt.Clock.Wall(every)
	tick := time.NewTicker(max(period, time.Microsecond))
	defer tick.Stop()
	// Commands are heard more often than frames are sent, but not in a busy loop.
	ear := time.NewTicker(min(period, 5*time.Millisecond))
	defer ear.Stop()
	var p [256]byte
	due := l.opt.Clock.Now().Add(every)
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		case <-ear.C:
		}
		now := l.opt.Clock.Now()
		// A machine that is busy wakes this late, and a ticker forgets what it missed. A
		// scale does not: what it showed meanwhile it has said, line by line.
		if now.Sub(due) > longestLate {
			due = now
		}
		for ; !l.opt.OnAsk && !due.After(now); due = due.Add(every) {
			if err := l.speak(l.src.Show(due), true); err != nil {
				return err
			}
		}
		s := l.src.Show(now)
		keys, asked := l.listen(p[:])
		for _, k := range keys {
			l.src.Press(now, k)
		}
		if len(keys) > 0 {
			s = l.src.Show(now)
		}
		if err := l.speak(s, asked); err != nil {
			return err
		}
	}
}

// longestLate is how long a line may be behind in virtual time and still say all
// that it missed; after more it was not a busy machine but one that slept.
const longestLate = 10 * time.Second

// speak follows the cable and writes one frame.
func (l *Line) speak(s Shown, due bool) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	want := s.Cable && !l.pull
	switch {
	case !want:
		return l.unplug()
	case l.wire == nil:
		if err := l.plug(); err != nil {
			return err
		}
	}
	if !due {
		return nil
	}
	frame, err := Encode(l.opt.Format, s)
	switch {
	case errors.Is(err, errCarry):
		return nil // a real one shows what it cannot send, too
	case err != nil:
		return err
	case len(frame) == 0:
		return nil
	}
	if t := l.opt.Terminator; t != "" {
		frame = append(bytes.TrimSuffix(frame, []byte("\r\n")), t...)
	}
	if l.wire.put(frame) {
		l.said++
	} else {
		l.drop++
	}
	return nil
}

// listen reads commands: which keys they press, and whether the weight was
// asked for.
func (l *Line) listen(p []byte) (keys []Verb, asked bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.wire == nil {
		return nil, false
	}
	n, err := l.wire.get(p)
	if err != nil || l.ask == nil {
		return nil, false // a listener that went away comes again, or the cable is pulled
	}
	l.heed = append(l.heed, p[:n]...)
	for len(l.heed) > 0 {
		used := 0
		for _, c := range []struct {
			bytes []byte
			key   Verb
		}{{l.ask.Weight, ""}, {l.ask.Tare, TareKey}, {l.ask.Zero, ZeroKey}} {
			if len(c.bytes) > used && bytes.HasPrefix(l.heed, c.bytes) {
				used = len(c.bytes)
				if c.key == "" {
					asked = true
				} else {
					keys = append(keys, c.key)
				}
				break
			}
		}
		if used == 0 {
			if len(l.heed) < 16 && l.prefixed() {
				return keys, asked // the rest of a command is still to come
			}
			used = 1
		}
		l.heed = l.heed[used:]
	}
	return keys, asked
}

// prefixed tells whether what was heard may become a command.
func (l *Line) prefixed() bool {
	for _, c := range [][]byte{l.ask.Weight, l.ask.Tare, l.ask.Zero} {
		if len(c) > 0 && bytes.HasPrefix(c, l.heed) {
			return true
		}
	}
	return false
}
