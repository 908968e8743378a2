package scale

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/big"
	"runtime/debug"
	"slices"
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
	// staleAfter is how long a reading may be shown.
	staleAfter = 2 * time.Second
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
	heard  ring

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
		heard, err := i.visit(ctx, tries)
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
	i.told, i.link, i.why = true, l, why
	i.stale = false
	i.log.Info().Str("link", l.String()).Str("why", why).Msg("scale")
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

// ear is one open port and what is known of it. It lives in one goroutine.
type ear struct {
	i      *Instrument
	port   Port
	key    string // in the memory of settings
	line   protocol.Line
	format *protocol.Format  // nil while hunting
	dec    *protocol.Decoder // nil while hunting
	seven  *sevenBits
	whole  bool // one Read gives one whole frame
	hunt   *hunt
	turns  []protocol.Line // framings still to try where only the speed was given
	first  protocol.Line   // of these

	opened    time.Time
	lastByte  time.Time
	lastFrame time.Time // that the format understands
	odd       []byte    // last bytes as they came

	talk       talk
	complained time.Time
}

// visit opens the port once and listens until it is lost. heard tells whether
// anything came.
func (i *Instrument) visit(ctx context.Context, tries int) (heard bool, err error) {
	var e *ear
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
	e = &ear{i: i, port: p, key: i.key(usbOf(p)), opened: time.Now()}
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
	i.counts = Counts{}
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

// at notes the setting that the port has.
func (e *ear) at(l protocol.Line) { e.line, e.seven = l, filterFor(l) }

// read begins to read frames of format f. midstream says that the next byte may
// stand within a frame.
func (e *ear) read(f *protocol.Format, midstream bool) {
	e.format = f
	// A stream says every weight ten times a second, so a changed length may wait for
	// three lines. One that is printed comes once: if it is refused, one more press
	// of the key shows the length to be right.
	steady := agreeing
	if e.i.cfg.Print {
		steady = 2
	}
	e.dec = protocol.NewDecoder(f, protocol.Options{BlankUnit: e.i.cfg.BlankUnit, Midstream: midstream, Steady: steady})
}

// set changes the setting of the port, by opening it anew where it cannot be done
// otherwise.
func (e *ear) set(l protocol.Line) error {
	e.at(l)
	if s, ok := e.port.(LineSetter); ok {
		return s.SetLine(l)
	}
	err := e.port.Close()
	e.port = closedPort{}
	if err != nil {
		return err
	}
	p, err := e.i.open(l, 0)
	if err != nil {
		return err
	}
	e.port = p
	return nil
}

// closedPort stands in for a port that is closed already.
type closedPort struct{}

func (closedPort) Read([]byte) (int, error)  { return 0, io.ErrClosedPipe }
func (closedPort) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }
func (closedPort) Close() error              { return nil }

// listen reads until the port is lost or ctx ends. Between the arrival of bytes
// and the call of feed stand only the decoder and the settler: no timer, no other
// goroutine.
func (e *ear) listen(ctx context.Context) error {
	buf := make([]byte, 4096)
	for ctx.Err() == nil {
		n, err := e.port.Read(buf)
		now := time.Now()
		if n > 0 {
			if err := e.bytes(buf[:n], now); err != nil {
				return err
			}
		}
		if err != nil {
			return err
		}
		if err := e.tick(now, n == 0); err != nil {
			return err
		}
	}
	return nil
}

func (e *ear) bytes(b []byte, now time.Time) error {
	before := e.lastByte
	if before.IsZero() {
		before = e.opened
	}
	e.lastByte = now
	e.keep(b)
	if e.hunt != nil {
		e.i.heard.put(now, b)
		return e.follow(e.hunt.add(b, now), now)
	}
	// After a silence the next byte begins a frame. What was begun before is given
	// up: "  1" cut from a line and "20.7 g" would make 120.7 g.
	if e.whole || now.Sub(before) >= gapAfter || e.lastFrame.IsZero() && before.Equal(e.opened) && now.Sub(before) >= wholeAfter {
		e.dec.Break()
	}
	if e.seven != nil {
		e.seven.filter(b)
	}
	e.dec.Push(b)
	if e.whole {
		e.dec.Finish()
	}
	for {
		r, ok := e.dec.Next()
		if !ok {
			return nil
		}
		e.i.heard.put(now, r.Raw)
		if e.take(&r, now) && e.answer(&r, now) {
			e.i.weigh(&r, now)
		} else if r.Err == nil && r.Status == protocol.Invalid {
			e.answer(&r, now)
		}
	}
}

// keep holds the last bytes as they came, for a look at what they could be.
func (e *ear) keep(b []byte) {
	b = b[max(0, len(b)-huntBytes):]
	if over := len(e.odd) + len(b) - huntBytes; over > 0 {
		e.odd = append(e.odd[:0], e.odd[over:]...)
	}
	e.odd = append(e.odd, b...)
}

// take counts a frame and tells whether it is a reading.
func (e *ear) take(r *protocol.Reading, now time.Time) bool {
	switch c := &e.i.counts; {
	case errors.Is(r.Err, protocol.ErrForeign):
		c.Foreign++
		return false
	case r.Err != nil:
		c.Damaged++
		return false
	default:
		c.Frames++
	}
	e.lastFrame = now
	if e.turns != nil {
		e.turns = nil
		e.remember(now)
	}
	return r.Status != protocol.Invalid
}

// weigh feeds a reading.
func (i *Instrument) weigh(r *protocol.Reading, now time.Time) {
	if i.link != Up {
		i.say(Up, "")
	}
	i.stale = false
	u := Update{Scale: i.cfg.Name, At: now, Link: Up, Identity: i.id, HasReading: true, Reading: *r, Counts: i.counts}
	u.Reading.Raw = bytes.Clone(r.Raw)
	if u.Why = i.measure(r, &u); u.Why == "" {
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

// measure turns digits into mass and step, or says why it cannot.
//
// The step is the one that the digits show, or the user's where that is coarser:
// a scale that counts by fives shows a finer digit than it has, while digits
// coarser than the user's step are those of another range.
func (i *Instrument) measure(r *protocol.Reading, u *Update) string {
	switch r.Status {
	case protocol.OK:
	case protocol.Overload:
		return "more is on the pan than the scale can weigh: take something off"
	case protocol.Underload:
		return "less is on the pan than the scale can weigh: is the pan in its place and free?"
	default:
		if r.Why != "" {
			return "the scale gives no weight now: " + r.Why
		}
		return "the scale gives no weight now"
	}
	switch {
	case r.Unit == protocol.UnitNone:
		return "the line shows no unit: set unit= to the unit that the display shows, such as unit=g"
	case r.Unit == protocol.UnitPieces, r.Unit == protocol.UnitPercent:
		return fmt.Sprintf("the scale shows %s, which is no weight: press its unit or mode key until it shows g", r.Unit)
	case !r.Unit.IsMass():
		return fmt.Sprintf("the scale shows %s, which is not used here as a unit of mass: press its unit key until it shows g", r.Unit)
	}
	m, err := nanograms(r.Value, r.Unit)
	if err != nil {
		return fmt.Sprintf("the scale shows %s %s: %v", r.Value, r.Unit, err)
	}
	d := r.Step
	if d.Coef == 0 {
		d = protocol.Decimal{Coef: 1, Places: r.Value.Places}
	}
	step, err := nanograms(d, r.Unit)
	if err != nil || step == 0 {
		return fmt.Sprintf("the scale shows %s %s: its step cannot be held", r.Value, r.Unit)
	}
	u.Mass, u.Step = m, max(step, i.cfg.Step)
	return ""
}

// nanograms converts digits to a mass. Some that instruments show are no whole
// number of nanograms, such as a tenth of an ounce (2834952312.5): these are
// rounded to the nearest, half a nanogram at most, for to refuse them would refuse
// every postal scale. The digits themselves are kept in the reading.
func nanograms(d protocol.Decimal, u protocol.Unit) (protocol.Mass, error) {
	m, err := d.Mass(u)
	if !errors.Is(err, protocol.ErrRange) {
		return m, err
	}
	ng := new(big.Int).Mul(new(big.Int).SetUint64(d.Coef), big.NewInt(u.Nanograms()))
	if d.Neg {
		ng.Neg(ng)
	}
	grams := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.Places)), nil)
	grams.Mul(grams, big.NewInt(int64(protocol.Gram)))
	return protocol.RoundRat(new(big.Rat).SetFrac(ng, grams))
}

// remember notes what was understood.
func (e *ear) remember(now time.Time) {
	if err := e.i.memory.Store(e.key, Remembered{e.line, e.format.Name, now}); err != nil {
		e.i.log.Warn().Err(err).Msg("memory")
	}
}

// tick looks at the time after every Read; idle says that it brought nothing.
func (e *ear) tick(now time.Time, idle bool) error {
	i := e.i
	if e.hunt != nil {
		if idle {
			if err := e.follow(e.hunt.idle(now), now); err != nil || e.hunt == nil {
				return err
			}
		}
		e.obey()
		e.complain(now, e.huntWords)
		return nil
	}
	e.ask(now)
	e.obey()
	since := e.opened
	if !e.lastFrame.IsZero() {
		since = e.lastFrame
	}
	away := now.Sub(since)
	// Silence is the nature of a print-key scale, and its last frame an explicit
	// word, not an old one.
	if e.talk.rest {
		return nil
	}
	if i.link == Up && !i.stale && away >= staleAfter && !i.cfg.Print {
		i.stale = true
		i.settler.Reset()
		i.feed(Update{Scale: i.cfg.Name, At: now, Link: Up, Stale: true, Identity: i.id, Counts: i.counts,
			Why: "no reading for two seconds"})
	}
	garbled := e.lastByte.After(since) // and none of the bytes made a frame
	switch {
	case garbled && e.turns != nil && away >= staleAfter:
		return e.turn(now)
	case garbled && away >= i.silence(), garbled && away >= staleAfter && i.link != Up:
		e.complain(now, e.garbledWords)
	case garbled, away < i.silence(), i.cfg.Print && i.link == Up:
	default:
		e.complain(now, e.silentWords)
	}
	return nil
}

func (i *Instrument) silence() time.Duration {
	if i.cfg.Silence > 0 {
		return i.cfg.Silence
	}
	return DefaultSilence
}

// complain says what keeps the instrument from being understood, and says it anew
// not more often than a person can read.
func (e *ear) complain(now time.Time, words func(time.Time) string) {
	if e.i.link == Waiting && now.Sub(e.complained) < staleAfter {
		return
	}
	e.complained = now
	e.i.say(Waiting, words(now))
}

// turn goes on to the next framing at the speed that the user gave: bytes came,
// and none of them made a frame.
func (e *ear) turn(now time.Time) error {
	next := e.turns[1:]
	if p := parityOf(e.odd); p != 0 && e.line.Bits == 8 {
		for k, l := range next {
			if l.Bits == 7 && l.Parity == p {
				next = slices.Concat([]protocol.Line{l}, next[:k], next[k+1:])
				break
			}
		}
	}
	e.turns = next
	if len(next) == 0 {
		e.turns, next = nil, []protocol.Line{e.first}
	}
	if err := e.set(next[0]); err != nil {
		return err
	}
	e.opened, e.odd = now, e.odd[:0]
	e.read(e.format, true)
	e.i.know(func(id *Identity) { id.Line = LineText(e.line) })
	return nil
}

// follow carries out what the hunt advises.
func (e *ear) follow(a advice, now time.Time) error {
	h := e.hunt
	switch a {
	case turn:
		return e.set(h.line())
	case found:
		e.hunt = nil
		e.line = h.line()
		e.i.know(func(id *Identity) { id.Format, id.Line = h.verdict.format.Name, LineText(e.line) })
		e.i.log.Info().Str("format", h.verdict.format.Name).Str("line", LineText(e.line)).Msg("understood")
		e.read(h.verdict.format, !h.whole())
		e.remember(now)
		e.seven = h.seven
		// The sample was filtered already. Only its last reading is of now.
		e.dec.Push(h.sample)
		var last protocol.Reading
		for {
			r, ok := e.dec.Next()
			if !ok {
				break
			}
			if e.take(&r, now) {
				r.Raw = bytes.Clone(r.Raw)
				last = r
			}
		}
		if last.Raw != nil {
			e.i.weigh(&last, now)
		}
	}
	return nil
}
