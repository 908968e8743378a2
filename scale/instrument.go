package scale

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"tared/protocol"
)

// The times of an instrument.
const (
	// retryWait is the pause before a port is tried again: a port that comes back
	// is noticed well within half a second.
	retryWait = 100 * time.Millisecond
	// After so many tries a port that is there but refuses is tried less often;
	// one that is not there costs one look at a name, and stays at retryWait.
	eagerTries = 50
	lazyWait   = time.Second
	// StaleAfter is how long a reading may be shown; after that it says nothing of now.
	StaleAfter = 2 * time.Second
	// gapAfter is a silence after which a frame begun before is not continued.
	gapAfter = time.Second
)

// Instrument is one scale: it opens the port, listens, notices when the port is
// lost, and finds it again. New starts nothing; Run does, and when it returns all
// that it started is gone.
type Instrument struct {
	cfg    Config
	opener Opener
	feed   func(Update)
	log    zerolog.Logger
	memory *Memory
	// contact is given what comes while no format is found, without parity; nil: nobody is.
	contact func(now time.Time, line protocol.Line, b []byte)
	heard   ring

	mu sync.Mutex
	id Identity // guarded by mu, for SaveCapture; written by Run alone

	// What follows belongs to the goroutine of Run.
	link    Link
	why     string
	told    bool // link and why were fed
	stale   bool
	counts  Counts
	settler Settler
	unit    protocol.Unit // of the last weight
	usb     string        // identity of the device that was opened first
}

// New makes an instrument. Every Update goes to feed, from the one goroutine that
// runs Run, in the order in which things happened; feed must not keep it waiting.
func New(cfg Config, o Opener, feed func(Update), log zerolog.Logger) *Instrument {
	if cfg.Remote == nil {
		cfg.Remote = NewRemote(nil)
	}
	return &Instrument{
		cfg: cfg, opener: o,
		feed: func(u Update) {
			u.Print = cfg.Print
			feed(u)
		},
		log:     log.With().Str("scale", cfg.Name).Str("port", cfg.Port).Logger(),
		id:      Identity{Port: cfg.Port, Format: cfg.Format},
		settler: Settler{Print: cfg.Print},
	}
}

// Remember makes the hunt begin with the settings in m and note there what it
// finds. Call it before Run.
func (i *Instrument) Remember(m *Memory) { i.memory = m }

// SaveCapture writes the last frames as an annotated capture, for a bug report or
// a new format. Any goroutine may call it.
func (i *Instrument) SaveCapture(w io.Writer) error {
	i.mu.Lock()
	id := i.id
	i.mu.Unlock()
	return writeCapture(w, i.cfg.Name, id, i.heard.all())
}

// Run opens the port, listens and feeds until ctx ends; it then returns nil,
// with the port closed. A port that is missing or lost is waited for. An error
// comes at once and means that the configuration cannot work.
//
// A balance read by eye has no port: it is up from the start and says nothing.
func (i *Instrument) Run(ctx context.Context) error {
	if err := i.cfg.Check(); err != nil {
		return err
	}
	if i.cfg.ByEye() {
		i.say(Up, "read by eye: type what it shows")
		<-ctx.Done()
		return nil
	}
	for tries := 0; ctx.Err() == nil; tries++ {
		heard, err := i.connect(ctx, tries)
		if ctx.Err() != nil {
			break
		}
		i.lost(err)
		if heard {
			tries = 0
		}
		wait := retryWait
		if tries > eagerTries && !errors.Is(err, ErrNoPort) && !errors.Is(err, ErrGone) {
			wait = lazyWait
		}
		pause(ctx, wait)
	}
	return nil
}

func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}

// say feeds a change of link or of its reason, and nothing when neither changed.
func (i *Instrument) say(l Link, why string) {
	if i.told && i.link == l && i.why == why {
		return
	}
	if l == Lost && i.link == Up && !i.stale {
		i.counts.Gaps++
	}
	i.told, i.link, i.why = true, l, why
	i.stale = false
	level := zerolog.InfoLevel
	if l == Lost {
		level = zerolog.WarnLevel
	}
	i.log.WithLevel(level).Str("link", l.String()).Str("why", why).Msg("scale")
	i.feed(Update{Scale: i.cfg.Name, At: time.Now(), Link: l, Why: why, Identity: i.id, Counts: i.counts})
}

func (i *Instrument) lost(err error) {
	i.settler.Reset()
	i.unit = protocol.UnitNone
	var pe *PortError
	if !errors.As(err, &pe) {
		pe = &PortError{Port: i.cfg.Port, Kind: ErrGone, Cause: err, Mend: "check the cable and whether the scale is switched on; it is taken up again by itself"}
	}
	if pe.Cause != nil {
		i.log.Debug().Err(pe.Cause).Msg("port")
	}
	i.say(Lost, pe.Error())
}

func (i *Instrument) know(change func(*Identity)) {
	i.mu.Lock()
	change(&i.id)
	i.mu.Unlock()
}

// open finds and opens the port. A device that was plugged in again may have
// another number, and another device its old one: where it has a serial number
// that decides, for a weight from the wrong scale is worse than none.
func (i *Instrument) open(line protocol.Line, tries int) (Port, error) {
	p, err := i.opener.Open(i.cfg.Port, line)
	if err == nil {
		usb := usbOf(p)
		if !HasSerial(i.usb) || usb == i.usb {
			if HasSerial(usb) {
				i.usb = usb
			}
			return p, nil
		}
		p.Close()
		err = &PortError{Port: i.cfg.Port, Kind: ErrGone, What: fmt.Sprintf("another device, %s, has its name now; this scale was on %s", usb, i.usb),
			Mend: "plug the scale in again, or start tared anew if the adapter was changed on purpose"}
	} else if !errors.Is(err, ErrNoPort) && !errors.Is(err, ErrGone) {
		return nil, err
	}
	// Looking through all devices costs more than looking at one name.
	if loc, ok := i.opener.(Locator); ok && HasSerial(i.usb) && tries%3 == 0 {
		if path, ok := loc.Locate(i.usb); ok && path != i.cfg.Port {
			if p, err2 := i.opener.Open(path, line); err2 == nil {
				if usbOf(p) == i.usb {
					i.log.Info().Str("at", path).Msg("the device has another name now")
					return p, nil
				}
				p.Close()
			}
		}
	}
	return nil, err
}

func usbOf(p Port) string {
	if d, ok := p.(Identifier); ok {
		return d.USB()
	}
	return ""
}

// connect opens the port once and listens until it is lost. heard tells whether
// anything came.
func (i *Instrument) connect(ctx context.Context, tries int) (heard bool, err error) {
	var e *listener
	defer func() {
		// The serial library panics when this program has too many files open; a
		// fault in a format must not take the other scales down either.
		if v := recover(); v != nil {
			i.log.Error().Interface("panic", v).Bytes("stack", debug.Stack()).Msg("reader")
			err = &PortError{Port: i.cfg.Port, Kind: ErrPort, What: fmt.Sprintf("the reader failed: %v", v),
				Mend: "it is tried again; please report this with the log"}
		}
		if e != nil {
			if cerr := e.port.Close(); cerr != nil {
				i.log.Debug().Err(cerr).Msg("close")
			}
		}
	}()
	format, _ := i.cfg.format(i.cfg.Format)
	// Who the device is can be asked only when the port is open. A device or a
	// lasting path that is known from before is recalled first.
	last := i.recall(i.key(i.usb))
	lines := linesFor(i.cfg, format, last)
	p, err := i.open(lines[0], tries)
	if err != nil {
		return false, err
	}
	e = &listener{i: i, port: p, key: i.key(usbOf(p)), opened: time.Now()}
	if s, ok := p.(Speaker); ok {
		if format, ok = i.cfg.format(s.Speaks()); !ok {
			return false, &PortError{Port: i.cfg.Port, Kind: ErrUnsupported, What: "no format is known for it", Mend: "use another scale"}
		}
		e.whole = true
		e.read(format, false)
	} else {
		e.at(lines[0])
		if last == nil {
			if last = i.recall(e.key); last != nil {
				lines = linesFor(i.cfg, format, last)
			}
		}
		if !sameLine(lines[0], e.line) {
			if err := e.set(lines[0]); err != nil {
				return false, err
			}
		}
		if format != nil && i.cfg.Baud > 0 {
			// The user's word for both is believed from the first frame on.
			e.turns, e.first = lines, lines[0]
			e.read(format, true)
		} else if format != nil && i.cfg.Ask && last != nil && last.Format == format.Name {
			// It was understood at this setting before, so it may be asked at once: it
			// would not say a word by itself.
			e.read(format, true)
		} else {
			e.hunt = newHunt(i.cfg, format, lines, e.opened)
		}
	}
	i.counts = Counts{Gaps: i.counts.Gaps}
	i.settler.Reset()
	i.unit = protocol.UnitNone
	i.know(func(id *Identity) {
		id.USB = usbOf(p)
		id.Format, id.Line = i.cfg.Format, ""
		if e.hunt == nil {
			id.Format = e.format.Name
			if e.line.Baud > 0 {
				id.Line = LineText(e.line)
			}
		}
	})
	i.say(Waiting, e.openWords())
	err = e.listen(ctx)
	return !e.lastByte.IsZero(), err
}

func (i *Instrument) key(usb string) string {
	return Found{Port: i.cfg.Port, USB: usb}.Key()
}

func (i *Instrument) recall(key string) *Remembered {
	if r, ok := i.memory.Recall(key); ok {
		return &r
	}
	return nil
}

// weigh feeds a reading.
func (i *Instrument) weigh(r *protocol.Reading, now time.Time) {
	if i.link != Up {
		i.say(Up, "")
	}
	i.stale = false
	u := Update{Scale: i.cfg.Name, At: now, Link: Up, Identity: i.id, HasReading: true, Reading: *r, Counts: i.counts}
	u.Reading.Raw = bytes.Clone(r.Raw)
	if u.Why = measure(r, i.cfg.Step, &u); u.Why == "" {
		u.HasMass = true
		if r.Unit != i.unit {
			i.settler.Reset()
			i.unit = r.Unit
		}
		u.Settled = i.settler.Add(now, u.Mass, u.Step, r.Stable)
		u.Late = i.settler.Late()
	} else {
		i.settler.Reset()
	}
	i.feed(u)
}

func (i *Instrument) silence() time.Duration {
	if i.cfg.Silence > 0 {
		return i.cfg.Silence
	}
	return DefaultSilence
}
