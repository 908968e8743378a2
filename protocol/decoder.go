package protocol

import (
	"bytes"
	"errors"
	"math/bits"
)

// maxFrame is the longest run of bytes that may be one frame. The longest known
// frame, a printed block, has a few hundred; a flood without an end (a wrong
// baud rate, a chattering cable) must not grow memory.
const maxFrame = 2048

// badByte stands in for a byte whose parity is wrong. It is SUB, which ASCII
// sets aside for just this, so no format takes it for a digit.
const badByte = 0x1a

// Options says how a stream is to be read. The zero value reads a stream that
// starts at a frame, with 8 data bits as they come.
type Options struct {
	// BlankUnit is what the user says a frame with no unit means. A unit that
	// the format itself fixes goes before it. Once a frame of the stream has shown
	// another unit, it is not applied any more: where a blank means "moving", the
	// scale was switched from g to kg by its key, and a moving line of it would be
	// wrong a thousandfold.
	BlankUnit Unit
	// Midstream drops everything up to the first end of a frame, for a port that
	// was opened while the instrument talked: "20.7g" cut from "120.7g" still
	// looks like a weight.
	Midstream bool
	// Steady asks, of formats with OneLength, how many frames in a row must have a
	// new length before a weight of that length is believed: a line of 9 digits
	// that lost one looks just like a line of 8, and a noisy line loses bytes in
	// several frames of a handful. The first length seen is taken as it is. It is
	// for streams of one instrument; a collection of lines from several needs it 0.
	// Then only the first of a new length is refused, where three before it had one
	// length.
	Steady int
	// EachFrame looks at each frame by itself: it believes one of a Pairs format
	// without waiting for an equal one, and a length that differs from those
	// before. It is for looking at recorded bytes, never for weighing.
	EachFrame bool
	// Parity is 'E' or 'O' for a stream that was sent with 7 data bits and that
	// parity but read with 8 and none. Every byte is checked before its top bit
	// is stripped, and a frame with a wrong one is damaged. 0 leaves bytes alone.
	Parity byte
}

// Decoder turns a stream of bytes into readings of one format, however the bytes
// are cut. It starts nothing and knows no time; one goroutine may use it.
//
// Push adds bytes, Next takes readings until it has no more, and Finish says
// that no more bytes will come.
type Decoder struct {
	f    *Format
	o    Options
	buf  []byte // bytes pushed and not yet dropped are buf[at:]
	at   int
	eof  bool
	skip bool    // inside a frame whose start was not seen, or that was too long
	last []byte  // the frame before, for Pairs
	long int     // the length of the weights' frames, for OneLength
	same int     // how many in a row had it
	next int     // a new length, for Steady
	came int     // how many in a row had that
	seen Unit    // the unit that a frame showed last, for BlankUnit
	r    Reading // what Parse writes into; here so that Next does not allocate
}

// NewDecoder makes a Decoder for one format.
func NewDecoder(f *Format, o Options) *Decoder {
	return &Decoder{f: f, o: o, skip: o.Midstream}
}

// Format gives the format that the decoder reads.
func (d *Decoder) Format() *Format { return d.f }

// Push adds bytes to the stream. It keeps a copy of them. The Raw of readings
// returned before is no longer valid.
func (d *Decoder) Push(p []byte) {
	if d.at > 0 {
		d.buf = d.buf[:copy(d.buf, d.buf[d.at:])]
		d.at = 0
	}
	d.buf = append(d.buf, p...)
	if d.o.Parity == 'E' || d.o.Parity == 'O' {
		want := 0
		if d.o.Parity == 'O' {
			want = 1
		}
		for i := len(d.buf) - len(p); i < len(d.buf); i++ {
			if bits.OnesCount8(d.buf[i])%2 != want {
				d.buf[i] = badByte
				continue
			}
			d.buf[i] &= 0x7f
		}
	}
}

// Finish says that the stream has ended: what remains is a frame of its own,
// which Next then gives.
func (d *Decoder) Finish() { d.eof = true }

// Break says that the instrument has been silent: the next byte begins a frame,
// and what was begun before is given up. What the stream has shown of its unit and
// of the length of its frames stays.
func (d *Decoder) Break() {
	d.buf, d.at, d.skip, d.eof, d.last = d.buf[:0], 0, false, false, d.last[:0]
}

// Next gives the next frame's reading. It gives false when it needs more bytes.
//
// A frame that was refused is a reading too: its Status is Invalid, Why says
// the reason, and Err holds ErrForeign or ErrDamaged. Err is nil for an Invalid
// frame that is the format's own, such as an acknowledgement.
func (d *Decoder) Next() (Reading, bool) {
	frame, state := d.frame()
	if len(frame) == 0 {
		return Reading{}, false
	}
	d.r = Reading{}
	var err error
	switch {
	case state == tooLong:
		err = errTooLong
	case state == open && d.f.Ends:
		err = errOpen
	default:
		err = d.parse(frame, &d.r)
	}
	d.r.Format, d.r.Raw = d.f.Name, frame
	d.settle(&d.r, err)
	return d.r, true
}

// What closed a frame.
const (
	closed  = iota // its own end
	open           // the end of the stream, and nothing else
	tooLong        // nothing: it was given up
)

var (
	errTooLong = damaged("no end of a frame was found; check the baud rate")
	errLength  = damaged("its length differs from that of the frame before: a byte was lost or doubled")
	errOpen    = damaged("the stream ended in the middle of it")
	errNines   = damaged("nines alone: many instruments fill the number with them when it is out of range")
)

// frame finds the next frame. It is empty when more bytes are needed.
func (d *Decoder) frame() (frame []byte, state int) {
	for d.at < len(d.buf) {
		b := d.buf[d.at:]
		// Split sees at most maxFrame bytes at a time, so that where it gives up
		// depends on the stream alone, and not on how it was cut.
		window := b[:min(len(b), maxFrame)]
		drop, frame := d.f.Split(window, d.eof && len(window) == len(b))
		switch {
		case drop == 0 && len(window) < maxFrame:
			return nil, closed
		case drop == 0 && d.skip:
			d.at += len(window)
		case drop == 0:
			d.at += len(window)
			d.skip = true
			return window, tooLong
		case d.skip:
			// The end of what was cut, or dropped bytes that show a boundary: what
			// comes next is whole.
			d.at += drop
			d.skip = false
		default:
			d.at += drop
			if len(frame) == 0 {
				continue
			}
			if d.eof && drop == len(b) {
				if n, _ := d.f.Split(window, false); n == 0 {
					return frame, open
				}
			}
			return frame, closed
		}
	}
	return nil, closed
}

func (d *Decoder) parse(frame []byte, r *Reading) error {
	if d.o.Parity != 0 && bytes.IndexByte(frame, badByte) >= 0 {
		return damaged("a byte has the wrong parity")
	}
	return d.f.Parse(frame, r)
}

// settle makes r say what the contract of Reading promises, whatever Parse left
// in it.
func (d *Decoder) settle(r *Reading, err error) {
	if err == nil && r.Status == OK && !d.f.RangeBit && nineFilled(r.Value.Coef) {
		err = errNines
	}
	if err != nil {
		*r = Reading{Format: r.Format, Raw: r.Raw, Err: err, Why: why(err)}
	}
	if d.f.OneLength && r.Status == OK {
		n := len(r.Raw)
		if d.f.length != nil {
			n = d.f.length(r.Raw)
		}
		if !d.longAsBefore(n) {
			*r = Reading{Format: r.Format, Raw: r.Raw, Err: errLength, Why: why(errLength)}
		}
	}
	if d.f.Pairs && !d.o.EachFrame {
		pair := r.Err == nil && bytes.Equal(r.Raw, d.last)
		d.last = append(d.last[:0], r.Raw...)
		if r.Status == OK && !pair {
			r.Status, r.Why = Invalid, "waiting for a second frame that is equal, for this format has no check of its own"
		}
	}
	if r.Status != OK {
		r.Value, r.Unit, r.Stable, r.Step = Decimal{}, UnitNone, Unsaid, Decimal{}
		return
	}
	switch {
	case r.Unit != UnitNone:
		d.seen = r.Unit
	case d.f.BlankUnit != UnitNone:
		r.Unit = d.f.BlankUnit
	case d.seen == UnitNone || d.seen == d.o.BlankUnit:
		r.Unit = d.o.BlankUnit
	}
}

// enough is how many frames of one length make a frame of another one suspect.
const enough = 3

// longAsBefore tells whether a weight's frame may have this length, and counts it.
func (d *Decoder) longAsBefore(n int) bool {
	switch {
	case n == d.long:
		d.same++
		d.next = 0
	case d.long == 0, d.o.EachFrame:
		d.long, d.same = n, 1
	case d.o.Steady > 0:
		if n != d.next {
			d.next, d.came = n, 0
		}
		if d.came++; d.came < d.o.Steady {
			return false
		}
		d.long, d.same, d.next = n, d.came, 0
	default:
		before := d.same
		d.long, d.same = n, 1
		return before < enough
	}
	return true
}

// nineFilled tells whether all digits of a number are nines, six of them or more.
// Most formats have a word or a flag for an overload, but drivers have met the
// filler without it (OpenTrickler PR 49: "parsed as 9999999"). A load that shows
// six nines and is none costs one reading; 999.99 has five and passes.
func nineFilled(n uint64) bool {
	count := 0
	for n%10 == 9 {
		n /= 10
		count++
	}
	return n == 0 && count >= 6
}

func why(err error) string {
	var r *refusal
	if errors.As(err, &r) {
		return r.why
	}
	return err.Error()
}
