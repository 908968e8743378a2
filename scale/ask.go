package scale

import "time"

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

// ask sends the format's question for the weight, where the user wants it and the
// format is known. It is never sent to find out what is there: the device may be
// somebody else's.
func (e *ear) ask(now time.Time) {
	if !e.i.cfg.Ask || e.format.Ask == nil || len(e.format.Ask.Weight) == 0 {
		return
	}
	if e.waiting {
		if now.Sub(e.asked) < answerWait {
			return
		}
		e.waiting = false
		e.unanswered++
	}
	pause := askEvery
	switch {
	case e.unanswered >= askPatience:
		pause = askSeldom
	case e.lastError:
		pause = errorPause
	}
	// Not into a line that may still be talking: the answer would be taken for the
	// rest of a frame whose beginning was not seen, and dropped.
	if now.Sub(e.asked) < pause || e.lastByte.IsZero() && now.Sub(e.opened) < wholeAfter {
		return
	}
	e.asked = now
	if _, err := e.port.Write(e.format.Ask.Weight); err != nil {
		// It does not read. That is no reason to stop listening.
		e.unanswered++
		e.i.log.Debug().Err(err).Msg("ask")
		return
	}
	e.waiting = true
}
