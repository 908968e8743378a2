package scale

import (
	"bytes"
	"errors"
	"slices"
	"time"

	"tared/protocol"
)

// hidFormat is the format of reports that come through USB alone.
const hidFormat = "hid-pos-scale"

// The bounds of the hunt for a setting.
const (
	agreeing   = 3                       // frames that must make sense before any is believed
	huntBytes  = 512                     // at most so many bytes at one setting
	huntLook   = 32                      // bytes between two looks, for some ports hand out one at a time
	huntFew    = 24                      // fewer are not judged: some twice the shortest line
	fewPlain   = 2                       // whole lines of clean text show that the setting is right
	huntPause  = 1200 * time.Millisecond // after so long without a byte a burst is over
	huntTime   = 5 * time.Second         // bytes that make no frame for so long are enough
	wholeAfter = 400 * time.Millisecond  // bytes that begin after so long begin with a whole frame
)

// usualLines are the settings met on scales, likeliest first. The first is what
// most current indicators and balances are set to.
var usualLines = []protocol.Line{
	{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "KERN DE, Ohaus Defender 3000, CAS CI-600D manuals"},
	{Baud: 2400, Bits: 7, Parity: 'E', Stop: 1, Source: "A&D EK-L manual, factory setting"},
	{Baud: 1200, Bits: 7, Parity: 'O', Stop: 1, Source: "Sartorius LE, CP manuals, factory setting"},
	{Baud: 4800, Bits: 8, Parity: 'N', Stop: 1, Source: "Adam Highland manual p. 88"},
	{Baud: 4800, Bits: 7, Parity: 'E', Stop: 1, Source: "METTLER TOLEDO Wildcat technical manual"},
	{Baud: 9600, Bits: 7, Parity: 'E', Stop: 1, Source: "Ohaus Aviator 7000 manual pp. 47 to 49"},
	{Baud: 9600, Bits: 8, Parity: 'O', Stop: 1, Source: "Sartorius Combics 3 manual p. 95"},
	{Baud: 19200, Bits: 8, Parity: 'N', Stop: 1, Source: "A&D FX-i manual p. 54, selectable"},
	{Baud: 600, Bits: 8, Parity: 'N', Stop: 1, Source: "G&G interface sheet, factory setting of one family"},
	{Baud: 115200, Bits: 8, Parity: 'N', Stop: 1, Source: "common practice on microcontroller boards, no source"},
	{Baud: 2400, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"},
	{Baud: 1200, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"},
	{Baud: 2400, Bits: 7, Parity: 'N', Stop: 2, Source: "from memory"},
	{Baud: 9600, Bits: 7, Parity: 'O', Stop: 1, Source: "from memory"},
	{Baud: 38400, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"},
	{Baud: 57600, Bits: 8, Parity: 'N', Stop: 1, Source: "from memory"},
}

// linesFor lists the settings to try: what the user said rules, then the last
// good one, those of the format, the usual ones.
func linesFor(c Config, f *protocol.Format, last *Remembered) []protocol.Line {
	if c.Line != nil && c.Baud > 0 {
		l := *c.Line
		l.Baud, l.Source = c.Baud, "as given"
		return []protocol.Line{l}
	}
	var all []protocol.Line
	if last != nil {
		all = append(all, last.Line)
	}
	if f != nil {
		all = append(all, f.Lines...)
	}
	all = append(all, usualLines...)
	switch {
	case c.Line != nil:
		// Every speed met, with the framing given.
		for i, l := range all {
			all[i] = protocol.Line{Baud: l.Baud, Bits: c.Line.Bits, Parity: c.Line.Parity, Stop: c.Line.Stop, Source: "framing as given"}
		}
	case c.Baud > 0:
		// Those at this speed first, then every other framing met.
		var rest []protocol.Line
		at := all[:0:0]
		for _, l := range all {
			if l.Baud == c.Baud {
				at = append(at, l)
				continue
			}
			l.Baud, l.Source = c.Baud, "speed as given"
			rest = append(rest, l)
		}
		all = append(at, rest...)
	}
	var out []protocol.Line
	for _, l := range all {
		if !slices.ContainsFunc(out, func(o protocol.Line) bool { return sameLine(o, l) }) {
			out = append(out, l)
		}
	}
	return out
}

// hunt finds setting and format by listening alone. It is arithmetic on bytes and
// times: who owns the port carries out what it says.
type hunt struct {
	cfg   Config
	named *protocol.Format // the user named it; nil: detect
	lines []protocol.Line

	at      int           // setting in use
	back    int           // setting to return to after one that parity hinted at; -1: none
	tried   protocol.Line // hinted at last
	sample  []byte        // bytes at this setting
	unread  int           // bytes that were not looked at yet
	cut     bool          // the beginning of the sample was dropped
	seven   *sevenBits
	start   time.Time // of this setting
	first   time.Time // byte at this setting
	last    time.Time // byte at this setting
	rounds  int       // through the whole list
	verdict verdict
	plain   int // whole lines of clean text; from fewPlain on the setting is right
}

// verdict is what a sample says.
type verdict struct {
	format *protocol.Format // identified
	among  []string         // several fit equally well
	why    string           // frames agree, and yet no format is decided
	frames int              // frames of the best format
	few    bool             // most of the sample is not in that format
	own    string           // a format that the user declared, and that refuses the lines for ownWhy
	ownWhy string           //
}

// advice is what the owner of the port is to do.
type advice uint8

const (
	stay  advice = iota // go on listening
	turn                // set the port to hunt.line()
	found               // hunt.verdict.format at hunt.line()
)

func newHunt(c Config, f *protocol.Format, lines []protocol.Line, now time.Time) *hunt {
	h := &hunt{cfg: c, named: f, lines: slices.Clone(lines), back: -1}
	h.begin(now)
	return h
}

func (h *hunt) line() protocol.Line { return h.lines[h.at] }

func (h *hunt) begin(now time.Time) {
	h.sample, h.cut, h.unread = h.sample[:0], false, 0
	h.seven = filterFor(h.line())
	h.start, h.first, h.last = now, time.Time{}, time.Time{}
	h.verdict, h.plain = verdict{}, 0
}

// filterFor gives the filter of a line of seven bits with parity; nil for others.
func filterFor(l protocol.Line) *sevenBits {
	if l.Bits != 7 || l.Parity == 'N' {
		return nil
	}
	return &sevenBits{odd: l.Parity == 'O'}
}

// add takes bytes that came at the setting in use. It may change b.
func (h *hunt) add(b []byte, now time.Time) advice {
	if h.first.IsZero() {
		h.first = now
	}
	h.last = now
	if h.seven != nil {
		h.seven.filter(b)
	}
	h.sample = append(h.sample, b...)
	if h.unread += len(b); h.unread < huntLook {
		return stay
	}
	return h.look(now)
}

func (h *hunt) look(now time.Time) advice {
	h.unread = 0
	h.verdict = identify(h.sample, h.cfg, h.named, h.whole())
	if h.verdict.format != nil {
		return found
	}
	h.plain = plainLines(h.sample)
	return h.judge(now)
}

// whole tells whether the sample begins with a whole frame.
func (h *hunt) whole() bool { return !h.cut && h.first.Sub(h.start) >= wholeAfter }

// idle is told of the time when no bytes came.
func (h *hunt) idle(now time.Time) advice {
	if h.unread > 0 {
		return h.look(now)
	}
	return h.judge(now)
}

// unknown tells whether clean text comes, and hardly any of it in a format that is known.
// A block of several lines is given the time to end.
func (h *hunt) unknown(now time.Time) bool {
	return h.plain >= fewPlain && (h.verdict.frames == 0 || h.verdict.few) && now.Sub(h.first) >= huntPause
}

func (h *hunt) judge(now time.Time) advice {
	if len(h.sample) == 0 {
		return stay // a device that sends nothing is left alone
	}
	full := len(h.sample) >= huntBytes
	if h.verdict.frames > 0 || h.plain >= fewPlain {
		if !full {
			return stay // a slow scale, or one with a print key
		}
		if h.verdict.why != "" || h.plain >= fewPlain {
			// The setting is right. More of the same would not decide, but other weights
			// may, so the later half is kept.
			h.sample = append(h.sample[:0], h.sample[len(h.sample)-huntBytes/2:]...)
			h.cut = true
			return stay
		}
	}
	enough := len(h.sample) >= huntFew && (now.Sub(h.last) >= huntPause || now.Sub(h.first) >= huntTime)
	if !full && !enough {
		// Parity shows itself sooner than a wrong speed does.
		if len(h.sample) < 4*huntFew || h.seven != nil {
			return stay
		}
		if _, ok := h.hinted(); !ok {
			return stay
		}
	}
	h.next()
	h.begin(now)
	return turn
}

// hinted gives the setting that the parity of the sample speaks for.
func (h *hunt) hinted() (protocol.Line, bool) {
	l := h.line()
	p := protocol.ParityOf(h.sample)
	if l.Bits != 8 || p == 0 {
		return l, false
	}
	l.Bits, l.Parity, l.Stop, l.Source = 7, p, 1, "parity of the bytes heard"
	return l, !sameLine(l, h.tried)
}

func (h *hunt) next() {
	if l, ok := h.hinted(); ok {
		h.tried = l
		i := slices.IndexFunc(h.lines, func(o protocol.Line) bool { return sameLine(o, l) })
		if i < 0 {
			h.lines = append(h.lines, l)
			i = len(h.lines) - 1
		}
		h.back, h.at = h.at, i
		return
	}
	if h.back >= 0 {
		h.at, h.back = h.back, -1
	}
	if h.at++; h.at == len(h.lines) {
		h.at = 0
		h.rounds++
		h.tried = protocol.Line{}
	}
}

// identify tells what format a sample is in. Formats that the user named or
// declared go first; what is built in is left to protocol.Detect, which knows the
// look-alikes.
func identify(sample []byte, c Config, named *protocol.Format, whole bool) verdict {
	v := identifyOwn(sample, c, named, whole)
	if v.format != nil || named != nil {
		return v
	}
	d := protocol.Detect(sample)
	if d.Parity != 0 || len(d.Candidates) == 0 {
		return v // the setting must be changed first
	}
	first := &d.Candidates[0]
	// Noise can look like messages without a weight: zeros are empty reports of a
	// HID scale, which no serial line carries.
	if first.Format.Name == hidFormat || first.Weights == 0 && !mostlyText(sample) {
		return v
	}
	if d.Few && v.frames == 0 {
		v.few = true
	}
	if v.frames = max(v.frames, first.Frames()); first.Frames() < agreeing {
		return v
	}
	switch {
	case d.Live():
		v.format = d.Format
	case len(d.Candidates) > 1:
		for i := range d.Candidates {
			v.among = append(v.among, d.Candidates[i].Format.Name)
		}
		v.why = d.Why
	case first.Weights == 0:
		v.why = d.Why
	}
	return v
}

// identifyOwn tries the formats that the user named or declared.
func identifyOwn(sample []byte, c Config, named *protocol.Format, whole bool) verdict {
	own := c.Formats
	if named != nil {
		own = []*protocol.Format{named}
	}
	var v verdict
	for _, f := range own {
		good, bad, why := read(sample, f, c.BlankUnit, whole)
		if good <= bad || good <= v.frames {
			if good == 0 && why != "" && slices.Contains(c.Formats, f) {
				v.own, v.ownWhy = f.Name, why
			}
			continue
		}
		if v.frames = good; good >= agreeing {
			v.format = f
		}
	}
	return v
}

// read counts the frames of a sample that a format understands and refuses, and says why it
// refused the last that is its own, and damaged. A format that believes only pairs is asked
// for each frame by itself.
func read(sample []byte, f *protocol.Format, blank protocol.Unit, whole bool) (good, bad int, why string) {
	d := protocol.NewDecoder(f, protocol.Options{BlankUnit: blank, Midstream: !whole, EachFrame: true})
	d.Push(sample)
	for {
		r, ok := d.Next()
		switch {
		case !ok:
			return good, bad, why
		case r.Err != nil:
			bad++
			if errors.Is(r.Err, protocol.ErrDamaged) {
				why = r.Why
			}
		case r.Status != protocol.Invalid:
			good++
		}
	}
}

// plainLines counts the whole lines of a sample that is clean text with a digit in each
// line, as a wrong speed or parity hardly shows; 0 where it is not. The first and the last
// may be cut.
func plainLines(b []byte) int {
	end := func(r rune) bool { return r == '\r' || r == '\n' }
	from, to := bytes.IndexFunc(b, end), bytes.LastIndexFunc(b, end)
	if from < 0 || !mostlyText(b) {
		return 0
	}
	whole := 0
	for _, l := range bytes.FieldsFunc(b[from:to+1], end) {
		printed := func(r rune) bool { return r >= ' ' && r <= '~' || r == '\t' || r == 0x02 || r == 0x03 }
		if len(bytes.TrimSpace(l)) == 0 {
			continue
		}
		if !bytes.ContainsAny(l, "0123456789") || bytes.ContainsFunc(l, func(r rune) bool { return !printed(r) }) {
			return 0
		}
		whole++
	}
	return whole
}

func mostlyText(b []byte) bool {
	text := 0
	for _, c := range b {
		if c >= ' ' && c <= '~' || c == '\r' || c == '\n' || c == 0x02 || c == 0x03 {
			text++
		}
	}
	return len(b) > 0 && text*10 >= len(b)*9
}
