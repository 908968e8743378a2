package scale

import (
	"bytes"
	"context"
	"errors"
	"io"
	"slices"
	"time"

	"tared/protocol"
)

// listener is one open port and what is known of it. It lives in one goroutine.
type listener struct {
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
	strange    bool // it was said that no known format comes
}

// at notes the setting that the port has.
func (e *listener) at(l protocol.Line) { e.line, e.seven = l, filterFor(l) }

// read begins to read frames of format f. midstream says that the next byte may
// stand within a frame.
func (e *listener) read(f *protocol.Format, midstream bool) {
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
func (e *listener) set(l protocol.Line) error {
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

func (closedPort) Read([]byte) (int, error) { return 0, io.ErrClosedPipe }

func (closedPort) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func (closedPort) Close() error { return nil }

// listen reads until the port is lost or ctx ends. Between the arrival of bytes
// and the call of feed stand only the decoder and the settler: no timer, no other
// goroutine.
func (e *listener) listen(ctx context.Context) error {
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
		if p, ok := e.port.(Patient); ok {
			// A scale that speaks by itself has just done so: nothing is due for a second.
			p.Patient(n > 0 && e.hunt == nil && !e.i.cfg.Ask && !e.i.cfg.Print)
		}
	}
	return nil
}

func (e *listener) bytes(b []byte, now time.Time) error {
	before := e.lastByte
	if before.IsZero() {
		before = e.opened
	}
	e.lastByte = now
	e.keep(b)
	if e.hunt != nil {
		e.i.heard.put(now, b)
		line := e.hunt.line()
		a := e.hunt.add(b, now)
		if e.i.contact != nil {
			e.i.contact(now, line, b)
		}
		return e.follow(a, now)
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
func (e *listener) keep(b []byte) {
	b = b[max(0, len(b)-huntBytes):]
	if over := len(e.odd) + len(b) - huntBytes; over > 0 {
		e.odd = append(e.odd[:0], e.odd[over:]...)
	}
	e.odd = append(e.odd, b...)
}

// take counts a frame and tells whether it is a reading.
func (e *listener) take(r *protocol.Reading, now time.Time) bool {
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

// remember notes what was understood.
func (e *listener) remember(now time.Time) {
	if err := e.i.memory.Store(e.key, Remembered{e.line, e.format.Name, now}); err != nil {
		e.i.log.Warn().Err(err).Msg("what was found cannot be kept for the next time")
	}
}

// tick looks at the time after every Read; idle says that it brought nothing.
func (e *listener) tick(now time.Time, idle bool) error {
	i := e.i
	if e.hunt != nil {
		return e.tickHunt(now, idle)
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
	if i.link == Up && !i.stale && away >= StaleAfter && !i.cfg.Print {
		i.stale = true
		i.counts.Gaps++
		i.settler.Reset()
		i.feed(Update{Scale: i.cfg.Name, At: now, Link: Up, Stale: true, Identity: i.id, Counts: i.counts,
			Why: "no reading for two seconds"})
	}
	garbled := e.lastByte.After(since) // and none of the bytes made a frame
	switch {
	case garbled && e.turns != nil && away >= StaleAfter && plainLines(e.odd) < fewPlain:
		return e.turn(now)
	case garbled && away >= i.silence(), garbled && away >= StaleAfter && i.link != Up:
		e.complain(now, e.garbledWords)
	case garbled, away < i.silence(), i.cfg.Print && i.link == Up:
	default:
		e.complain(now, e.silentWords)
	}
	return nil
}

// tickHunt is tick while no format is found.
func (e *listener) tickHunt(now time.Time, idle bool) error {
	if idle {
		if err := e.follow(e.hunt.idle(now), now); err != nil || e.hunt == nil {
			return err
		}
	}
	e.obey()
	if e.hunt.unknown(now) && !e.strange {
		e.strange, e.complained = true, time.Time{} // no wait: this is news
	}
	e.complain(now, e.huntWords)
	return nil
}

// complain says what keeps the instrument from being understood, and says it anew
// not more often than a person can read.
func (e *listener) complain(now time.Time, words func(time.Time) string) {
	if e.i.link == Waiting && now.Sub(e.complained) < StaleAfter {
		return
	}
	e.complained = now
	e.i.say(Waiting, words(now))
}

// turn goes on to the next framing at the speed that the user gave: bytes came,
// and none of them made a frame.
func (e *listener) turn(now time.Time) error {
	next := e.turns[1:]
	if p := protocol.ParityOf(e.odd); p != 0 && e.line.Bits == 8 {
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
func (e *listener) follow(a advice, now time.Time) error {
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
