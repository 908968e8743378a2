package protocol

import (
	"errors"
	"math/bits"
	"slices"
	"strings"
)

// liveFrames is how many frames must agree before a live instrument is believed
// to speak a format.
const liveFrames = 3

// Candidate is a format that reads at least one frame of a sample.
type Candidate struct {
	Format  *Format
	Weights int // frames that are weights
	Others  int // frames that are the format's own, but no weight: overload, acknowledgement
	Damaged int // frames refused with ErrDamaged
	Foreign int // frames refused with ErrForeign

	spans []span
	read  []Reading
}

// Frames counts the frames that the format reads.
func (c *Candidate) Frames() int { return c.Weights + c.Others }

// span is a piece of the sample that a format reads as one frame.
type span struct{ from, to int }

// Detection is what a sample can be.
type Detection struct {
	// Format is the one format that explains the sample; nil when none does, or
	// when several do.
	Format *Format
	// Candidates are the formats that explain the sample, best first. More than
	// one are look-alikes, which no more bytes of this kind can tell apart.
	Candidates []Candidate
	// Beaten are formats that read some of its frames, but only frames that a
	// candidate reads too, and not all of those.
	Beaten []Candidate
	// Same says that several candidates read every frame in the same way: value,
	// unit, stable, mode and status. The readings may then be shown, by the name
	// of the first candidate; but the next frame may be read in two ways, so a
	// weighing still needs to be told the format.
	Same bool
	// Parity is 'E' or 'O' when the sample was sent with 7 data bits and that
	// parity and read with 8 and none. Options.Parity mends it; better is to set
	// the port right.
	Parity byte
	// Why is a sentence for people: what was found, or what to set.
	Why string
}

// Live tells whether a live instrument may be read with Format: it was decided,
// by at least three frames, and not by acknowledgements alone.
func (d *Detection) Live() bool {
	return d.Format != nil && d.Candidates[0].Frames() >= liveFrames && d.Candidates[0].Weights > 0
}

// wider lists formats that read all that others read, in the same way, and more
// besides. Where one of the others explains a sample, it is the one to name.
var wider = map[*Format][]*Format{
	stxStatusWordLoose: {stxStatusWord, stxStatusWordSum8},
	multiLinePrint:     {counterPacket, letterKeyedBlock, titledBlock},
}

// Detect finds out which format a sample of a stream is in. It only looks; to
// send a command and see who answers would wake other people's devices.
//
// Every format reads the sample. One that reads only frames that another reads
// too, and fewer, is beaten. What is left is decided when it is one format and
// reads at least half of the frames (or of the bytes); otherwise the look-alikes are named and
// nothing is guessed. The first frame may have been cut by the opening of the
// port, so it counts only as far as it does not spoil a decision.
func Detect(sample []byte) Detection {
	d := detect(sample, 0)
	if p := parityOf(sample); p != 0 {
		if m := detect(sample, p); m.weight() > d.weight() {
			m.Parity = p
			m.Why += "; the bytes have " + parityName(p) + " parity in their top bit: set the port to 7 data bits and that parity"
			d = m
		}
	}
	return d
}

func parityName(p byte) string {
	if p == 'O' {
		return "odd"
	}
	return "even"
}

// parityOf gives 'E' or 'O' when every byte of the sample has that parity over 8
// bits and some have their top bit set, as when 7 data bits and parity are read
// as 8 and none. A single byte with the other parity, and it is 0: lamps, binary
// digits and block status bytes use the top bit for themselves.
func parityOf(sample []byte) byte {
	odd, top := 0, false
	for _, c := range sample {
		odd += bits.OnesCount8(c) % 2
		top = top || c >= 0x80
	}
	switch {
	case !top || len(sample) < 8:
		return 0
	case odd == 0:
		return 'E'
	case odd == len(sample):
		return 'O'
	}
	return 0
}

// weight is how much of the sample the best candidate explains.
func (d *Detection) weight() int {
	if len(d.Candidates) == 0 {
		return 0
	}
	return total(d.Candidates[0].spans)
}

func detect(sample []byte, parity byte) Detection {
	var all []Candidate
	for _, f := range formats {
		if c := readSample(f, sample, parity); c.Frames() > 0 {
			all = append(all, c)
		}
	}
	d := decide(all, 0, len(sample))
	if d.Format == nil && len(all) > 0 {
		// Perhaps the first frame is a cut one that some format happens to read.
		if e := decide(all, firstEnd(sample, parity), len(sample)); e.Format != nil {
			d = e
		}
	}
	if len(all) == 0 {
		d.Why = noneReads(sample)
	}
	return d
}

// readSample reads the sample with one format, each frame for itself.
func readSample(f *Format, sample []byte, parity byte) Candidate {
	c := Candidate{Format: f}
	dec := NewDecoder(f, Options{EachFrame: true, Parity: parity})
	dec.Push(sample)
	dec.Finish()
	for before := 0; ; before = dec.at {
		r, ok := dec.Next()
		if !ok {
			return c
		}
		if r.Err != nil {
			if errors.Is(r.Err, ErrDamaged) {
				c.Damaged++
			} else {
				c.Foreign++
			}
			continue
		}
		if r.Status == OK {
			c.Weights++
		} else {
			c.Others++
		}
		c.spans = append(c.spans, place(dec.buf, r.Raw, before, dec.at))
		r.Raw = nil
		c.read = append(c.read, r)
	}
}

// place finds where in buf a frame stands. A frame is a piece of buf, so its
// capacity tells; should it be a copy, the bytes dropped with it serve.
func place(buf, frame []byte, from, to int) span {
	if i := cap(buf) - cap(frame); len(frame) > 0 && i >= from && i+len(frame) <= to && &buf[i] == &frame[0] {
		return span{i, i + len(frame)}
	}
	return span{from, to}
}

// firstEnd gives the place where the first line of the sample ends.
func firstEnd(sample []byte, parity byte) int {
	for i, c := range sample {
		if parity != 0 {
			c &= 0x7f
		}
		if isEnd(c) {
			return i
		}
	}
	return 0
}

// decide weighs the candidates by the frames that begin at or behind start, in a
// sample of size bytes.
func decide(all []Candidate, start, size int) Detection {
	var cs []Candidate
	for _, c := range all {
		c = c.from(start)
		if c.Frames() > 0 {
			cs = append(cs, c)
		}
	}
	// Acknowledgements and the like are shared by many; where somebody reads a
	// weight, who reads none is out of the question.
	weights := slices.ContainsFunc(cs, func(c Candidate) bool { return c.Weights > 0 })
	var d Detection
	for i := range cs {
		if weights && cs[i].Weights == 0 || beaten(&cs[i], cs) {
			d.Beaten = append(d.Beaten, cs[i])
		} else {
			d.Candidates = append(d.Candidates, cs[i])
		}
	}
	byWeight := func(a, b Candidate) int { return total(b.spans) - total(a.spans) }
	slices.SortStableFunc(d.Candidates, byWeight)
	slices.SortStableFunc(d.Beaten, byWeight)
	d.say(size)
	return d
}

// from keeps the readings of frames that begin at or behind start.
func (c Candidate) from(start int) Candidate {
	spans, read := c.spans, c.read
	c.spans, c.read, c.Weights, c.Others = nil, nil, 0, 0
	for i, s := range spans {
		if s.from < start {
			continue
		}
		c.spans, c.read = append(c.spans, s), append(c.read, read[i])
		if read[i].Status == OK {
			c.Weights++
		} else {
			c.Others++
		}
	}
	return c
}

func beaten(c *Candidate, all []Candidate) bool {
	for i := range all {
		o := &all[i]
		if o.Format == c.Format || !covers(o.spans, c.spans) {
			continue
		}
		// Of two that read the same in the same way, the narrower is the one to name.
		narrower := slices.Contains(wider[c.Format], o.Format)
		if total(o.spans) > total(c.spans) || narrower && sameReadings(o, c) {
			return true
		}
	}
	return false
}

// covers tells whether each span of b lies inside a span of a.
func covers(a, b []span) bool {
	i := 0
	for _, s := range b {
		for i < len(a) && a[i].to < s.to {
			i++
		}
		if i == len(a) || a[i].from > s.from {
			return false
		}
	}
	return true
}

func total(s []span) (n int) {
	for _, x := range s {
		n += x.to - x.from
	}
	return n
}

// sameReadings tells whether two formats say the same of the same frames.
func sameReadings(a, b *Candidate) bool {
	if !slices.Equal(a.spans, b.spans) {
		return false
	}
	for i := range a.read {
		x, y := &a.read[i], &b.read[i]
		if x.Status != y.Status || x.Value != y.Value || x.Unit != y.Unit || x.Stable != y.Stable || x.Mode != y.Mode {
			return false
		}
	}
	return true
}

// say fills Format, Same and Why.
func (d *Detection) say(size int) {
	if len(d.Candidates) == 0 {
		return
	}
	first := &d.Candidates[0]
	if len(d.Candidates) == 1 {
		refused := first.Damaged + first.Foreign
		// The first and the last frame may be cut without anything being wrong, and
		// a long block may stand among short lines.
		if refused-2 > first.Frames() && total(first.spans)*2 < size {
			d.Why = "only few of the frames are " + first.Format.Name + "; set the format, or check baud rate and cable"
			return
		}
		d.Format = first.Format
		d.Why = "every frame that can be read is " + first.Format.Name
		if first.Weights == 0 {
			d.Why += ", but none of them is a weight"
		}
		return
	}
	names := make([]string, len(d.Candidates))
	d.Same = true
	for i := range d.Candidates {
		names[i] = d.Candidates[i].Format.Name
		d.Same = d.Same && sameReadings(first, &d.Candidates[i])
	}
	d.Why = "these bytes can be " + strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1] +
		"; set the format to the one whose layout stands in the instrument's manual"
}

// noneReads is the advice when no format reads anything.
func noneReads(sample []byte) string {
	top, text, odd := 0, 0, 0
	for _, c := range sample {
		odd += bits.OnesCount8(c) % 2
		switch {
		case c >= 0x80:
			top++
		case c >= ' ' && c <= '~', isEnd(c):
			text++
		}
	}
	switch {
	case len(sample) == 0:
		return "nothing was received; press the print key or switch on the instrument's continuous output"
	case text == len(sample):
		return "readable text, but in no known format; declare a format of your own for it"
	case len(sample) >= 16 && top*8 > len(sample) && (odd*10 < len(sample) || odd*10 > 9*len(sample)):
		return "most bytes look like 7 data bits and parity read as 8 bits, but some do not; set the port to 7 data bits"
	case top*8 > len(sample):
		return "many bytes have their top bit set; check the baud rate, then parity and data bits"
	}
	return "in no known format; check the baud rate"
}
