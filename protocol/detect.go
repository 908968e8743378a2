package protocol

import (
	"bytes"
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
	pairs []bool // whether a frame is one of two equal ones in a row
	blank int    // bytes of the lines that ornament says tell nothing
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
	// Few says that most of the sample is in none of the candidates' formats. Then
	// nothing is decided.
	Few bool
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
//
// Three things are never evidence enough. One spoilt byte must not decide between
// formats that read the same frame as different weights, so those that have no
// check of their own need two equal frames in a row. A format that is lenient with
// the bits of another does not win by reading a weight where the other reads
// "no weight". And where lines with titles (GROSS, TARE, TOTAL) stand between
// the weights, it is a print-out, and nobody knows which number lies on the pan.
//
// own are formats that the user declared. They go first, for the user knows the
// instrument: what is built in is looked at when none of them explains the sample.
func Detect(sample []byte, own ...*Format) Detection {
	if len(own) > 0 {
		if d := detectAmong(own, sample); d.Format != nil {
			return d
		}
	}
	return detectAmong(formats, sample)
}

func detectAmong(formats []*Format, sample []byte) Detection {
	d := detect(formats, sample, 0)
	if p := ParityOf(sample); p != 0 {
		if m := detect(formats, sample, p); m.weight() > d.weight() {
			m.Parity = p
			m.Why += "; the bytes have " + ParityName(p) + " parity in their top bit: set the port to 7 data bits and that parity"
			d = m
		}
	}
	return d
}

// ParityName gives the word for the parity 'E' or 'O'.
func ParityName(p byte) string {
	if p == 'O' {
		return "odd"
	}
	return "even"
}

// ParityOf gives 'E' or 'O' when every byte of the sample has that parity over 8
// bits and some have their top bit set, as when 7 data bits and parity are read
// as 8 and none. A single byte with the other parity, and it is 0: lamps, binary
// digits and block status bytes use the top bit for themselves.
func ParityOf(sample []byte) byte {
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

func detect(formats []*Format, sample []byte, parity byte) Detection {
	var all []Candidate
	for _, f := range formats {
		if c := readSample(f, sample, parity); c.Frames() > 0 {
			all = append(all, c)
		}
	}
	d := decide(all, 0, sample, parity)
	if d.Format == nil && len(all) > 0 {
		// Perhaps the first frame is a cut one that some format happens to read. One
		// frame behind it is too little to say so.
		if e := decide(all, firstEnd(sample, parity), sample, parity); e.Format != nil && e.Candidates[0].Frames() > 1 {
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
	last := []byte(nil) // the frame before, where it is the last of c.spans
	for before := 0; ; before = dec.at {
		r, ok := dec.Next()
		if !ok {
			return c
		}
		pair := r.Err == nil && bytes.Equal(r.Raw, last)
		if last = nil; r.Err == nil {
			last = r.Raw
		}
		if r.Err != nil {
			switch {
			case errors.Is(r.Err, ErrDamaged):
				c.Damaged++
			case ornament(r.Raw):
				c.blank += len(r.Raw)
			default:
				c.Foreign++
			}
			continue
		}
		if r.Status == OK {
			c.Weights++
		} else {
			c.Others++
		}
		if pair {
			c.pairs[len(c.pairs)-1] = true
		}
		c.pairs = append(c.pairs, pair)
		c.spans = append(c.spans, place(dec.buf, r.Raw, before, dec.at))
		r.Raw = nil
		c.read = append(c.read, r)
	}
}

// ornament tells whether a line only divides others or dates them, as interval
// printing has it (KERN EG, EW, PES interface sections: a row of dashes and the time
// around each record): it speaks neither for a format nor against it.
func ornament(line []byte) bool {
	line = trimBlanks(line)
	if len(line) >= 3 && (allOf(line, '-') || allOf(line, '=') || allOf(line, '*')) {
		return true
	}
	for _, shape := range [...]string{"00:00:00", "00:00", "0000-00-00", "0000/00/00", "00.00.0000", "00/00/0000", "00.00.00", "00/00/00"} {
		if isShape(line, shape) {
			return true
		}
	}
	return false
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

// decide weighs the candidates by the frames that begin at or behind start.
func decide(all []Candidate, start int, sample []byte, parity byte) Detection {
	var cs []Candidate
	for _, c := range all {
		c = c.from(start)
		if c.Frames() > 0 {
			cs = append(cs, c)
		}
	}
	// Acknowledgements and the like are shared by many; where somebody reads a
	// weight, who reads none is out of the question, unless it denies that weight.
	weights := slices.ContainsFunc(cs, func(c Candidate) bool { return c.Weights > 0 })
	var d Detection
	for i := range cs {
		c := &cs[i]
		denies := slices.ContainsFunc(cs, func(o Candidate) bool { return o.Weights > 0 && contradict(c, &o) })
		if weights && c.Weights == 0 && !denies || beaten(c, cs) {
			d.Beaten = append(d.Beaten, cs[i])
		} else {
			d.Candidates = append(d.Candidates, cs[i])
		}
	}
	if len(d.Candidates) == 0 {
		// They beat one another in a circle: none is out of the question.
		d.Candidates, d.Beaten = d.Beaten, nil
	}
	byWeight := func(a, b Candidate) int { return total(b.spans) - total(a.spans) }
	slices.SortStableFunc(d.Candidates, byWeight)
	slices.SortStableFunc(d.Beaten, byWeight)
	d.say(sample, parity)
	return d
}

// from keeps the readings of frames that begin at or behind start.
func (c Candidate) from(start int) Candidate {
	spans, read, pairs := c.spans, c.read, c.pairs
	c.spans, c.read, c.pairs, c.Weights, c.Others = nil, nil, nil, 0, 0
	for i, s := range spans {
		if s.from < start {
			continue
		}
		c.spans, c.read, c.pairs = append(c.spans, s), append(c.read, read[i]), append(c.pairs, pairs[i])
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
		if o := &all[i]; o.Format != c.Format && beats(o, c) {
			return true
		}
	}
	return false
}

// beats tells whether o explains the sample so much better than c that c is out of
// the question.
func beats(o, c *Candidate) bool {
	if narrows(o, c) {
		return true
	}
	switch {
	case !covers(o.spans, c.spans), total(o.spans) <= total(c.spans), narrows(c, o):
		return false
	case o.Format.Pairs && c.Format.Pairs:
		// The same bytes in two orders. A spoilt byte in one of many frames may be
		// all that the one reads and the other does not.
		return o.pairBeyond(c)
	}
	return !contradict(o, c)
}

// narrows tells whether o is the narrower of two formats that read the same in the
// same way, and reads nearly all that c reads: it is the one to name then.
func narrows(o, c *Candidate) bool {
	if !slices.Contains(wider[c.Format], o.Format) || 3*len(o.spans) < 2*len(c.spans) {
		return false
	}
	return o.eachShared(c, sameReading) == len(o.spans)
}

// contradict tells whether two formats read a frame as different weights, or one of
// them reads it as no weight.
func contradict(a, b *Candidate) bool {
	alike := func(x, y *Reading) bool { return x.Status == y.Status && x.Value == y.Value && x.Unit == y.Unit }
	return a.eachShared(b, alike) < a.eachShared(b, func(x, y *Reading) bool { return true })
}

// eachShared counts the frames that both read and of which ok holds.
func (c *Candidate) eachShared(o *Candidate, ok func(x, y *Reading) bool) (n int) {
	for i, j := 0, 0; i < len(c.spans) && j < len(o.spans); {
		switch x, y := c.spans[i], o.spans[j]; {
		case x == y:
			if ok(&c.read[i], &o.read[j]) {
				n++
			}
			i++
			j++
		case x.to < y.to || x.to == y.to && x.from < y.from:
			i++
		default:
			j++
		}
	}
	return n
}

// pairBeyond tells whether two equal frames in a row stand among those that c reads
// and o does not.
func (c *Candidate) pairBeyond(o *Candidate) bool {
	for i, s := range c.spans {
		if c.pairs[i] && !slices.Contains(o.spans, s) {
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
	return slices.Equal(a.spans, b.spans) && a.eachShared(b, sameReading) == len(a.spans)
}

func sameReading(x, y *Reading) bool {
	return x.Status == y.Status && x.Value == y.Value && x.Unit == y.Unit && x.Stable == y.Stable && x.Mode == y.Mode
}

// say fills Format, Few, Same and Why.
func (d *Detection) say(sample []byte, parity byte) {
	if len(d.Candidates) == 0 {
		return
	}
	first := &d.Candidates[0]
	names := first.Format.Name
	for i := 1; i < len(d.Candidates); i++ {
		sep := ", "
		if i == len(d.Candidates)-1 {
			sep = " or "
		}
		names += sep + d.Candidates[i].Format.Name
	}
	// The first and the last frame may be cut without anything being wrong, and
	// a long block may stand among short lines.
	refused, frames := first.Damaged+first.Foreign-2, first.Frames()
	switch alone := len(d.Candidates) == 1; {
	case (refused > frames || refused == 1 && frames == 1) && total(first.spans)*2 < len(sample)-first.blank:
		d.Few = true
		d.Why = "only few of the frames are " + names + "; set the format, or check baud rate and cable"
	case first.Weights > 0 && titles(first, sample, parity):
		d.Few = true
		d.Why = "some lines are " + names + ", but lines with titles stand between them: this is a print-out, and which number lies on the pan cannot be told; switch the scale to continuous output, or set the format"
	case alone && first.Format.Pairs && !slices.Contains(first.pairs, true):
		d.Few = true
		d.Why = "this looks like " + names + ", but no two frames in a row are equal, and a spoilt byte may make it out of a look-alike; set the format to the one that stands in the instrument's menu"
	case alone:
		d.Format = first.Format
		d.Why = "every frame that can be read is " + names
		if first.Weights == 0 {
			d.Why += ", but none of them is a weight"
		}
	default:
		d.Same = true
		for i := range d.Candidates {
			d.Same = d.Same && sameReadings(first, &d.Candidates[i])
		}
		d.Why = "these bytes can be " + names + "; set the format to the one whose layout stands in the instrument's manual"
	}
}

// titles tells whether a line that is foreign to a candidate opens with a title, as
// on a print-out. The first and the last line may be cut, and tell nothing.
func titles(c *Candidate, sample []byte, parity byte) bool {
	text := sample
	if parity != 0 {
		text = bytes.Clone(sample)
		for i := range text {
			text[i] &= 0x7f
		}
	}
	next := 0 // in c.spans
	for from, i := -1, 0; i < len(text); i++ {
		if !isEnd(text[i]) {
			continue
		}
		at := from + 1
		if from < 0 {
			at = i // the first line
		}
		from = i
		for next < len(c.spans) && c.spans[next].to <= at {
			next++
		}
		if read := next < len(c.spans) && c.spans[next].from < i; !read && hasTitle(text[at:i]) {
			var r Reading
			if errors.Is(c.Format.Parse(text[at:i], &r), ErrForeign) {
				return true
			}
		}
	}
	return false
}

// hasTitle tells whether a line opens with a word that print-outs put before a
// number, or with the letter of one: "Net 12.3 g", "T: 5.0".
func hasTitle(line []byte) bool {
	line = trimLeft(line)
	n := 0
	for n < len(line) && isLetter(line[n]) {
		n++
	}
	switch strings.ToLower(string(line[:n])) {
	case "gross", "brutto", "net", "nett", "netto", "tare", "tara", "total", "subtotal", "sum":
		return true
	case "g", "b", "n", "t":
		rest := bytes.TrimLeft(line[n:], " :=.")
		return len(rest) > 0 && len(rest) < len(line)-n && (isDigit(rest[0]) || rest[0] == '-' || rest[0] == '+')
	}
	return false
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
