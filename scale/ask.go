package scale

import (
	"bytes"
	"fmt"
	"time"

	"tared/protocol"
)

// The pace of asking. An instrument that is asked too fast shows nothing but
// "Print" on its display, so one question stands at a time, and one that is not
// answered, or is answered with an error, is not repeated at once.
const (
	askEvery    = 150 * time.Millisecond
	answerWait  = time.Second
	errorPause  = time.Second
	askPatience = 5 // unanswered questions
	askSeldom   = 5 * time.Second
)

// asking is where the dialogue with an instrument stands.
type asking uint8

const (
	quietNow asking = iota // no question stands
	greeted                // it was called, and has not said that it is ready
	asked                  // the question for the weight stands
)

// talk is the dialogue with an instrument that must be asked.
type talk struct {
	stands     asking
	at         time.Time // of what was sent last
	unanswered int
	refused    bool // the last answer was an error, or none came: a pause before the next question
	rest       bool // nobody wants the weight now, and that was said
}

// ask sends the format's question for the weight, where the user wants it, the
// format is known, and somebody wants the weight. It is never sent to find out
// what is there: the device may be somebody else's.
func (e *listener) ask(now time.Time) {
	a := e.format.Ask
	if !e.i.cfg.Ask || a == nil || len(a.Weight) == 0 {
		return
	}
	t := &e.talk
	if t.stands != quietNow {
		if now.Sub(t.at) < answerWait {
			return
		}
		t.stands = quietNow
		t.unanswered++
		// What comes in the pause that follows is late, and is not taken for the
		// answer to the next question.
		t.refused = true
		t.at = now
	}
	if e.unwanted(now) {
		return
	}
	pause := askEvery
	switch {
	case t.unanswered >= askPatience:
		pause = askSeldom
	case t.refused:
		pause = errorPause
	}
	// Not into a line that may still be talking: the answer would be taken for the
	// rest of a frame whose beginning was not seen, and dropped.
	if now.Sub(t.at) < pause || e.lastByte.IsZero() && now.Sub(e.opened) < wholeAfter {
		return
	}
	if len(a.Greet) > 0 {
		e.send(a.Greet, greeted, now)
	} else {
		e.send(a.Weight, asked, now)
	}
}

func (e *listener) send(b []byte, stands asking, now time.Time) {
	e.talk.at = now
	if _, err := e.port.Write(b); err != nil {
		// It does not read. That is no reason to stop listening.
		e.talk.unanswered++
		e.talk.stands = quietNow
		e.i.log.Debug().Err(err).Msg("ask")
		return
	}
	e.talk.stands = stands
}

// unwanted tells whether nobody wants the weight now: many instruments beep at
// each question. Until the first weight was heard they are asked all the same, for
// a sheet needs their step. When the asking ends, what was shown is of the past.
func (e *listener) unwanted(now time.Time) bool {
	i := e.i
	if i.cfg.Remote.wanted() || e.lastFrame.IsZero() {
		e.talk.rest = false
		return false
	}
	if !e.talk.rest {
		e.talk.rest = true
		i.stale = true
		i.settler.Reset()
		i.feed(Update{Scale: i.cfg.Name, At: now, Link: i.link, Stale: true, Identity: i.id, Counts: i.counts,
			Why: "it is not asked while nothing is weighed; it is again when a batch begins"})
	}
	return true
}

// answer takes a frame into the dialogue, and tells whether it may be a weight: one
// that nobody asked for may not, where nothing comes unasked.
func (e *listener) answer(r *protocol.Reading, now time.Time) bool {
	a := e.format.Ask
	if !e.i.cfg.Ask || a == nil {
		return true
	}
	t := &e.talk
	if len(a.Greet) > 0 && r.Status == protocol.Invalid && bytes.Equal(r.Raw, a.Ready) {
		if t.stands == greeted {
			e.send(a.Weight, asked, now)
		}
		return false
	}
	if a.Only && t.stands != asked {
		e.i.log.Debug().Str("frame", fmt.Sprintf("%+q", r.Raw)).Msg("nobody asked for it")
		return false
	}
	t.stands, t.unanswered, t.refused = quietNow, 0, r.Status == protocol.Error
	return true
}

// obey sends the orders that wait.
func (e *listener) obey() {
	for {
		select {
		case o := <-e.i.cfg.Remote.orders:
			o.done <- e.order(o.what)
		default:
			return
		}
	}
}

func (e *listener) order(what Order) error {
	if e.format == nil {
		return fmt.Errorf("%w: what it speaks is not known yet", ErrOrder)
	}
	var b []byte
	if a := e.format.Ask; a != nil {
		switch what {
		case OrderZero:
			b = a.Zero
		case OrderTare:
			b = a.Tare
		}
	}
	if len(b) == 0 {
		return fmt.Errorf("%w: no command to %s is documented for %s; press the key on the scale", ErrOrder, what, e.format.Name)
	}
	if _, err := e.port.Write(b); err != nil {
		return fmt.Errorf("%w: %w", ErrOrder, err)
	}
	e.i.log.Info().Str("order", string(what)).Msg("sent, as a person said")
	return nil
}
