package scale

import (
	"fmt"
	"strings"
	"time"
)

// The sentences of an instrument that cannot be understood, each with what to do.

func (e *listener) openWords() string {
	if e.i.cfg.Print {
		return "the port is open: press the print key of the scale"
	}
	return "the port is open: nothing was heard yet"
}

func (e *listener) silentWords(time.Time) string {
	switch {
	case e.i.cfg.Ask && e.talk.unanswered > 0 && e.lastFrame.IsZero():
		return "the scale does not answer: is it on and not in standby, is its interface set to answer commands, is the cable crossed?"
	case e.i.cfg.Ask && e.talk.unanswered > 0:
		return "the scale has stopped answering: it may be in standby or have switched itself off; its zero may be a new one when it is back"
	case e.i.cfg.Print:
		return "the port is open: press the print key of the scale"
	case !e.lastFrame.IsZero():
		return "the scale has fallen silent: it may be in standby, have switched itself off, or its stream stalled; switch it on, and mind that its zero may be a new one"
	case e.format.Ask != nil && !e.i.cfg.Ask:
		return "the scale sends nothing: turn on continuous output in its menu, or set ask=yes if it answers questions, or print=yes if it speaks on its print key only; is it on?"
	}
	return quiet
}

const quiet = "the scale sends nothing: it may speak on its print key only (set print=yes), have its continuous output turned off in its menu, be in standby, or want handshake lines that this cable does not carry"

func (e *listener) huntWords(now time.Time) string {
	h := e.hunt
	switch {
	case len(h.verdict.among) > 0:
		return fmt.Sprintf("the bytes fit %s alike: set format= to the one whose layout stands in the manual of the scale", strings.Join(h.verdict.among, " and "))
	case h.verdict.why != "":
		return h.verdict.why
	case e.lastByte.IsZero() && now.Sub(e.opened) < e.i.silence():
		return e.openWords()
	case e.lastByte.IsZero() && h.named != nil && e.i.cfg.Ask:
		return "the scale says nothing by itself, and it is asked only at a setting that is known: set baud= and line= as its menu or manual says"
	case e.lastByte.IsZero() && h.named == nil:
		return quiet + "; without bytes its format cannot be found, so set format= if you know it"
	case e.lastByte.IsZero():
		return quiet
	case h.rounds > 0:
		return fmt.Sprintf("bytes come, but no usual setting makes sense of them%s: set baud, line and format as the menu or manual of the scale says", sampleWords(e.odd))
	}
	return "listening for speed and format"
}

// garbledWords says what bytes that the format does not understand look like.
func (e *listener) garbledWords(time.Time) string {
	name := e.format.Name
	if p := parityOf(e.odd); p != 0 && e.line.Bits == 8 {
		return fmt.Sprintf("the bytes look like seven data bits with %s parity read as eight: set line=7%c1", parityWord(p), p)
	}
	v := identify(e.odd, e.i.cfg, nil, false)
	switch {
	case v.format != nil && v.format.Name != name:
		return fmt.Sprintf("the lines are not %s; they look like %s: set format=%s", name, v.format.Name, v.format.Name)
	case len(v.among) > 0:
		return fmt.Sprintf("the lines are not %s; they look like %s: set format= to the one whose layout stands in its manual", name, strings.Join(v.among, " or "))
	case !mostlyText(e.odd):
		return fmt.Sprintf("bytes come, but they are no text and no %s%s: the speed or parity is probably wrong; leave out baud and line to have them found", name, sampleWords(e.odd))
	}
	return fmt.Sprintf("lines come, but they are no %s%s: leave out format to have it found", name, sampleWords(e.odd))
}

func parityWord(p byte) string {
	if p == 'E' {
		return "even"
	}
	return "odd"
}

// sampleWords quotes the last bytes.
func sampleWords(b []byte) string {
	const few = 24
	if len(b) == 0 {
		return ""
	}
	return fmt.Sprintf(", such as %+q", b[max(0, len(b)-few):])
}
