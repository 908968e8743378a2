package protocol

// stx-status-word: the continuous frame of weighing indicators. Three bytes of
// flags, six digits of weight, six of tare, no point and no line feed.
//
//	STX , 0 _ 001234 000000 CR +
//	 0  1 2 3 4      10     16 17
//
//	1  A: bits 0..2 place of the point (0 x100, 1 x10, 2 x1, 3..7 one to five
//	   decimals); bits 3..4 step (01 one, 10 two, 11 five); bit 5 is 1, bit 6 is 0
//	2  B: bit 0 net, 1 negative, 2 out of range, 3 in motion, 4 kg (else lb),
//	   5 is 1, 6 not yet zeroed since power-up
//	3  C: bits 0..2 unit (0 as B bit 4, 1 gram, 2 tonne), 3 print request,
//	   4 expanded display, 5 is 1, 6 is 0
//	4  weight, a magnitude: blanks may stand for leading zeros, the sign is in B
//	10 tare, likewise
//	17 checksum, where it is sent: what makes the low 7 bits of the sum of all
//	   18 bytes zero. It may be CR or STX, so frames are counted, never split.
//
// Sources: METTLER TOLEDO Wildcat technical manual 6-4, 6-5; IND445 / ICS425
// p. 50; KERN FTC p. 42; Rockwell 57C428 App. D; Cardinal 225; Fairbanks, Liden
// LUW2001 and Triner manuals.
//
// Refused, because a wrong weight is worse than none: a checksum that does not
// fit; constant bits that are wrong; step bits 00, which mean nothing; unit
// codes 3..7 (some are known from memory only); blanks behind a digit; and the
// expanded display, for the manuals do not say where its point stands. Out of
// range with the negative bit is the low end.
var stxStatusWord = statusWord{name: "stx-status-word"}.format(
	"STX, three status bytes, six weight and six tare digits, CR, checksum or none",
	`\x02,0 001234000000\r+`)

// checksum says which check ends a frame.
type checksum uint8

const (
	checkAuto checksum = iota // none or 7 bits: whichever the frame itself shows
	checkSum8                 // low 8 bits of the plain sum
)

// statusWord is one maker's way with the frame.
type statusWord struct {
	name  string
	check checksum
	loose bool // constant bits are not looked at
}

func (w statusWord) format(summary, example string) *Format {
	return &Format{
		Name: w.name, Summary: summary, Example: example,
		Split:    w.split,
		Parse:    w.parse,
		RangeBit: true,
		Lines: []Line{
			{9600, 7, 'E', 1, "METTLER TOLEDO IND445 / ICS425 p. 50"},
			{4800, 7, 'E', 1, "METTLER TOLEDO Wildcat technical manual 6-4"},
			{9600, 8, 'N', 1, "from memory"},
		},
	}
}

const statusWordLen = 17 // without checksum

// split counts 17 bytes, and decides about the one behind them. Where it is
// not STX it is the checksum. Where it is, the byte behind that tells: a status
// byte means that the STX opened a frame and this one has no checksum; anything
// else, or nothing, that the checksum is STX.
func (w statusWord) split(b []byte, atEOF bool) (drop int, frame []byte) {
	const n = statusWordLen
	drop, frame = splitCounted(b, atEOF, stx, n, n-1, '\r')
	if len(frame) != n || frame[0] != stx || frame[n-1] != '\r' {
		return drop, frame
	}
	switch {
	case len(b) == n && !atEOF, len(b) == n+1 && b[n] == stx && !atEOF:
		return 0, nil
	case len(b) == n, len(b) > n+1 && b[n] == stx && b[n+1] >= ' ':
		return n, b[:n]
	}
	return n + 1, b[:n+1]
}

func (w statusWord) sum(b []byte) byte {
	var s byte
	for _, c := range b {
		s += c
	}
	if w.check == checkSum8 {
		return s
	}
	return -s & 0x7f
}

func (w statusWord) parse(frame []byte, r *Reading) error {
	if len(frame) == 0 || frame[0] != stx {
		return foreign("it does not open with STX")
	}
	switch n := len(frame); {
	case n == statusWordLen && w.check == checkAuto, n == statusWordLen+1:
	default:
		return damaged("it does not have 17 bytes and a checksum")
	}
	if frame[statusWordLen-1] != '\r' {
		return damaged("no CR after the digits")
	}
	if len(frame) > statusWordLen && frame[statusWordLen] != w.sum(frame[:statusWordLen]) {
		return damaged("the checksum does not fit")
	}
	if _, ok := sixDigits(frame[10:16]); !ok && !allOf(frame[10:16], ' ') {
		return damaged("the tare is not digits")
	}
	return w.fields(frame[1], frame[2], frame[3], frame[4:10], r)
}

// fields reads the status bytes and the weight.
func (w statusWord) fields(a, b, c byte, weight []byte, r *Reading) error {
	const one, zero6 = 0x20, 0x40
	if w.loose {
		a, b, c = a&^zero6|one, b&^zero6|one, c&^(zero6|0x10)|one
	}
	if a&(0x80|zero6|one) != one || b&(0x80|one) != one || c&(0x80|zero6|one) != one {
		return damaged("a constant bit of the status bytes is wrong")
	}
	if a>>3&3 == 0 {
		return damaged("the step bits 00 mean nothing")
	}
	r.Mode = Gross
	if b&1 != 0 {
		r.Mode = Net
	}
	switch {
	case b&4 != 0 && b&2 != 0:
		return r.is(Underload, "")
	case b&4 != 0:
		return r.is(Overload, "")
	case b&zero6 != 0:
		return r.is(Error, "not zeroed since it was switched on: empty the pan and press zero")
	case c&0x10 != 0:
		return r.is(Error, "the display is expanded tenfold: switch that off, for the place of the point is not known then")
	}
	n, ok := sixDigits(weight)
	if !ok {
		return damaged("the weight is not six digits")
	}
	r.Value = Decimal{Coef: n, Neg: b&2 != 0}
	r.Step.Coef = uint64([...]uint8{0, 1, 2, 5}[a>>3&3])
	switch code := a & 7; code {
	case 0:
		r.Value.Coef *= 100
		r.Step.Coef *= 100
	case 1:
		r.Value.Coef *= 10
		r.Step.Coef *= 10
	default:
		r.Value.Places = code - 2
		r.Step.Places = code - 2
	}
	switch c & 7 {
	case 0:
		r.Unit = UnitPound
		if b&0x10 != 0 {
			r.Unit = UnitKilogram
		}
	case 1:
		r.Unit = UnitGram
	case 2:
		r.Unit = UnitTonne
	default:
		return damaged("the unit code is not known")
	}
	r.Stable = Yes
	if b&8 != 0 {
		r.Stable = No
	}
	r.Status = OK
	return nil
}

// sixDigits reads digits with blanks for leading zeros, and no point.
func sixDigits(b []byte) (n uint64, ok bool) {
	b = trimLeft(b)
	for _, c := range b {
		if !isDigit(c) {
			return 0, false
		}
		n = n*10 + uint64(c-'0')
	}
	return n, len(b) > 0
}
