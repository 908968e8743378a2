package scale

import (
	"fmt"
	"strings"
	"time"

	"tared/protocol"
)

// The sentences of an instrument that cannot be understood, each with what to do.

func (e *listener) openWords() string {
	if e.i.cfg.Print {
		return "Connected. Press the print key of the scale."
	}
	return "Connected. Waiting for the first reading."
}

func (e *listener) silentWords(time.Time) string {
	switch {
	case e.i.cfg.Ask && e.talk.unanswered > 0 && e.lastFrame.IsZero():
		return "The scale does not answer. Is it on and awake, is its interface set to answer commands, is the cable crossed?"
	case e.i.cfg.Ask && e.talk.unanswered > 0:
		return "The scale has stopped answering: it may be asleep or off. It may have re-zeroed when it is back."
	case e.i.cfg.Print:
		return "Connected. Press the print key of the scale."
	case !e.lastFrame.IsZero():
		return "The scale has stopped sending: it may be asleep or off. Switch it on. It may have re-zeroed."
	case e.format.Ask != nil && !e.i.cfg.Ask:
		return "The scale sends nothing. Is it on? Turn on continuous output in its menu, or set ask=yes if it answers commands, or print=yes if it sends only when its print key is pressed."
	}
	return quiet
}

const quiet = "The scale sends nothing. It may send only when its print key is pressed (set print=yes), have continuous output turned off in its menu, be asleep, or need handshake lines that this cable does not have."

// unknownText begins what is said of clean text in no known format.
const unknownText = "Text comes, but in no format that tared knows"

func (e *listener) huntWords(now time.Time) string {
	h := e.hunt
	switch {
	case len(h.verdict.among) > 0:
		return fmt.Sprintf("The scale sends what could be %s. Set format= to the one whose layout is in its manual.", strings.Join(h.verdict.among, " and "))
	case h.verdict.why != "":
		return h.verdict.why
	case h.verdict.own != "":
		return ownWords(h.verdict)
	case h.unknown(now):
		if said := e.likeOther(h.named); said != "" {
			return said
		}
		return fmt.Sprintf("%s%s. Try it with a known weight: on the Scales page, or by tared scales with --set-up.", unknownText, sampleWords(e.odd))
	case e.lastByte.IsZero() && now.Sub(e.opened) < e.i.silence():
		return e.openWords()
	case e.lastByte.IsZero() && h.named != nil && e.i.cfg.Ask:
		return "The scale sends nothing by itself, and it is asked only at known settings. Set baud= and line= from its menu or manual."
	case e.lastByte.IsZero() && h.named == nil:
		return quiet + " Its format cannot be found until it sends; set format= if you know it."
	case e.lastByte.IsZero():
		return quiet
	case h.rounds > 0:
		return fmt.Sprintf("The scale is sending, but not in a format tared recognises%s. Set baud, line and format from the scale's menu or manual.", sampleWords(e.odd))
	}
	return "Finding the speed and format."
}

// garbledWords says what bytes that the format does not understand look like.
func (e *listener) garbledWords(time.Time) string {
	name := e.format.Name
	if p := protocol.ParityOf(e.odd); p != 0 && e.line.Bits == 8 {
		return fmt.Sprintf("What it sends looks like seven data bits with %s parity, read as eight. Set line=7%c1.", protocol.ParityName(p), p)
	}
	said, own := e.likeOther(e.format), identifyOwn(e.odd, e.i.cfg, nil, false)
	switch {
	case own.own != "":
		return ownWords(own)
	case said != "":
		return said
	case !mostlyText(e.odd):
		return fmt.Sprintf("The scale is sending, but neither text nor %s%s. The speed or parity is probably wrong: leave out baud and line to have them found.", name, sampleWords(e.odd))
	}
	return fmt.Sprintf("The scale is sending, but not %s%s. Leave out format to have it found.", name, sampleWords(e.odd))
}

// ownWords says why a declared format does not read the lines that are its own.
func ownWords(v verdict) string {
	return fmt.Sprintf("Text comes, but format \"%s\" does not read the lines: %s.", v.own, v.ownWhy)
}

// likeOther says which other format the lines are in where they are not in f; "" where that
// is not clear. Two scales whose adapters changed places send each other's lines.
func (e *listener) likeOther(f *protocol.Format) string {
	if f == nil {
		return ""
	}
	v := identify(e.odd, e.i.cfg, nil, false)
	switch {
	case v.format != nil && v.format.Name != f.Name:
		return fmt.Sprintf("The lines are not %s. They look like %s: is another scale on this cable? If not, set format=%s.", f.Name, v.format.Name, v.format.Name)
	case len(v.among) > 0:
		return fmt.Sprintf("The lines are not %s. They look like %s: is another scale on this cable? If not, set format= to the one whose layout is in its manual.", f.Name, strings.Join(v.among, " or "))
	}
	return ""
}

// sampleWords quotes the last bytes.
func sampleWords(b []byte) string {
	const few = 24
	if len(b) == 0 {
		return ""
	}
	return fmt.Sprintf(", for example %+q", b[max(0, len(b)-few):])
}
