package protocol

import "bytes"

// multi-line-print: what print keys and label printers send, one item a line.
// Such a block holds gross, tare, net and totals; a reader that takes it line by
// line has a wrong weight in its hand most of the time. So a block is recognised
// from its head to its end and read as a whole, or not at all. Three kinds are
// known, each a format of its own; multi-line-print is all of them at once.
//
// counter-packet (NSerialCommTools, folder JIK6CAB, capture):
//
//	^KJIK000 | date | time | tare | gross | price | price | net | net | n pcs | | | E | ~P1
//
// It gives the net weight, if all lines are there, gross less tare is net, and
// both nets are equal.
//
// letter-keyed-block (NSerialCommTools, folder TFO1, capture): items end with
// CR, the block with LF. A gross, 0 net, 4 tare, B a status byte, C the date, V1
// the end.
//
//	F | H | Q | X | A 351.0 | 0 7.5 | 4 343.5 | 1 | 2 | B 83 | C date | V1 LF
//
// It gives the net weight, without a unit, if gross less tare is net and the
// status byte is the one of the capture: what its bits mean is not known.
//
// titled-block: tickets with words for titles. They are recognised and never
// read, for what stands in which line differs from maker to maker:
// GROSS..Total (Adam Highland manual), Date..PCS (Adam CBC manual), N.W.: (Jadever
// manual), SOH..EOT around lines (Symmetry manual).
//
// A block with a line too many, too few or out of order is damaged. A block in
// which another one opens was cut, and the new one is read.
var (
	counterPacket = &Format{
		Name:    "counter-packet",
		Summary: "printed block from ^KJIK000 to ~P1, read as a whole",
		Example: `^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n`,
		Split:   blockSplit(counterBlock),
		Parse:   parseCounterPacket,
		Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
	}
	letterKeyedBlock = &Format{
		Name:    "letter-keyed-block",
		Summary: "printed block of items with a letter in front, from F to V1, read as a whole",
		Example: `F      0.0\rH      0.0\rQ      0.0\rX      0.0\rA    351.0\r0      7.5\r4    343.5\r1      0.0\r2       0\rB\x83\rC20\xf4 02\xf3 2023\xf2 MON 09:18AM\rV1\r\n`,
		Split:   blockSplit(letterBlock),
		Parse:   parseLetterKeyedBlock,
		Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
	}
	titledBlock = &Format{
		Name:    "titled-block",
		Summary: "printed block with words for titles: recognised, never read",
		Example: `GROSS    1.94 kg\r\nNo.      3\r\nTotal    5.82 kg\r\n`,
		Split:   blockSplit(titledBlocks...),
		Parse:   parseTitledBlock,
		Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
	}
	multiLinePrint = &Format{
		Name:    "multi-line-print",
		Summary: "any of counter-packet, letter-keyed-block and titled-block",
		Example: `^KJIK000\r\n2023-11-07\r\n17:19:26\r\n  0.00 kg\r\n  1.94 kg\r\n0\r\n0\r\n  1.94 kg\r\n  1.94 kg\r\n    0 pcs\r\n \r\n \r\nE\r\n~P1\r\n`,
		Split:   blockSplit(append([]block{counterBlock, letterBlock}, titledBlocks...)...),
		Parse: func(frame []byte, r *Reading) error {
			switch {
			case counterBlock.opens(frame):
				return parseCounterPacket(frame, r)
			case letterBlock.opens(frame):
				return parseLetterKeyedBlock(frame, r)
			}
			return parseTitledBlock(frame, r)
		},
		Lines: []Line{{9600, 8, 'N', 1, "from memory"}},
	}
)

// block tells where a kind of block opens and ends. A line is what stands
// between line ends.
type block struct {
	head string // the block opens with a line that starts with it, or
	is   func(line []byte) bool
	tail string // the block ends with the line that starts with it
}

var (
	counterBlock = block{head: "^KJIK000", tail: "~P1"}
	letterBlock  = block{is: isLetterHead, tail: "V1"}
	titledBlocks = []block{
		{head: "GROSS", tail: "Total"},
		{head: "Date", tail: "PCS"},
		{head: "N.W.:", tail: "N.W.:"},
		{head: "\x01", tail: "\x04"},
	}
)

// isLetterHead knows the first item of a letter-keyed block: F and a number to
// the right of nine columns.
func isLetterHead(line []byte) bool {
	if len(line) != 10 || line[0] != 'F' {
		return false
	}
	_, ok := paddedNumber(line[1:])
	return ok
}

func (k block) opens(line []byte) bool {
	if i := bytes.IndexAny(line, "\r\n"); i >= 0 {
		line = line[:i]
	}
	if k.is != nil {
		return k.is(line)
	}
	return bytes.HasPrefix(line, []byte(k.head))
}

// blockLimit is more than any of these blocks has.
const blockLimit = 1024

// blockSplit makes a Split for kinds of blocks. It works on whole lines: one
// that opens no block is a frame of its own, which no kind reads.
func blockSplit(kinds ...block) func(b []byte, atEOF bool) (drop int, frame []byte) {
	return func(b []byte, atEOF bool) (drop int, frame []byte) {
		w := b[:min(len(b), blockLimit)]
		full := len(w) == blockLimit || atEOF
		at := 0
		for at < len(w) && (isEnd(w[at]) || w[at] == 0) {
			at++
		}
		if at > 0 {
			return at, nil
		}
		var kind *block
		for at < len(w) {
			n := bytes.IndexAny(w[at:], "\r\n")
			if n < 0 {
				break // a line that is not all there
			}
			line := w[at : at+n]
			opens := opener(kinds, line)
			switch {
			case at == 0 && opens == nil:
				return n + 1, line
			case at > 0 && opens != nil:
				return at, w[:at]
			case at == 0:
				kind = opens
			}
			at += n
			if bytes.HasPrefix(line, []byte(kind.tail)) || kind.tail == "\x04" && bytes.IndexByte(line, eot) >= 0 {
				return at + 1, w[:at+1]
			}
			for at < len(w) && isEnd(w[at]) {
				at++
			}
		}
		if full {
			return len(w), w
		}
		return 0, nil
	}
}

func opener(kinds []block, line []byte) *block {
	for i := range kinds {
		if kinds[i].opens(line) {
			return &kinds[i]
		}
	}
	return nil
}

// items walks over the lines of a block without allocating.
type items struct{ rest []byte }

// next gives the line before the next CR, LF or CR LF.
func (it *items) next() []byte {
	i := bytes.IndexAny(it.rest, "\r\n")
	if i < 0 {
		line := it.rest
		it.rest = nil
		return line
	}
	line := it.rest[:i]
	if bytes.HasPrefix(it.rest[i:], []byte("\r\n")) {
		i++
	}
	it.rest = it.rest[i+1:]
	return line
}

func parseCounterPacket(frame []byte, r *Reading) error {
	if !counterBlock.opens(frame) {
		return foreign("it does not open with ^KJIK000")
	}
	it := items{frame}
	if string(it.next()) != "^KJIK000" || !isShape(it.next(), "0000-00-00") || !isShape(it.next(), "00:00:00") {
		return damaged("head, date or time is not as it should be")
	}
	tare, u0, ok0 := printedWeight(it.next())
	gross, u1, ok1 := printedWeight(it.next())
	unitPrice, price := printedNumber(it.next()), printedNumber(it.next())
	net, u2, ok2 := printedWeight(it.next())
	again, u3, ok3 := printedWeight(it.next())
	if !ok0 || !ok1 || !ok2 || !ok3 || !unitPrice || !price || u0 != u1 || u1 != u2 || u2 != u3 {
		return damaged("a line is not the weight or price that belongs there")
	}
	if !isCount(it.next()) || !isBlank(it.next()) || !isBlank(it.next()) || string(it.next()) != "E" || string(it.next()) != "~P1" || len(it.next()) != 0 {
		return damaged("the end is not as it should be")
	}
	if net != again || !balances(gross, tare, net) {
		return damaged("gross less tare is not net")
	}
	r.Value, r.Unit, r.Mode, r.Status = net, u2, Net, OK
	return nil
}

func parseLetterKeyedBlock(frame []byte, r *Reading) error {
	if !letterBlock.opens(frame) {
		return foreign("it does not open with the item F")
	}
	const keys = "FHQXA0412"
	var gross, net, tare Decimal
	it := items{frame}
	for i := range len(keys) {
		item := it.next()
		if len(item) < 2 || item[0] != keys[i] {
			return damaged("an item is missing or out of order")
		}
		d, ok := paddedNumber(item[1:])
		if !ok {
			return damaged("an item is not a number")
		}
		switch keys[i] {
		case 'A':
			gross = d
		case '0':
			net = d
		case '4':
			tare = d
		}
	}
	const good = 0x83
	status := it.next()
	if len(status) != 2 || status[0] != 'B' || status[1] < 0x80 {
		return damaged("the status item is not B and one byte above 7F")
	}
	if date := it.next(); len(date) == 0 || date[0] != 'C' {
		return damaged("the date is missing")
	}
	if string(it.next()) != "V1" {
		return damaged("it does not end with V1")
	}
	if !balances(gross, tare, net) {
		return damaged("gross less tare is not net")
	}
	if status[1] != good {
		r.Status, r.Why = Invalid, "a status byte whose meaning is not known"
		return nil
	}
	r.Value, r.Mode, r.Status = net, Net, OK
	return nil
}

func parseTitledBlock(frame []byte, r *Reading) error {
	kind := opener(titledBlocks, frame)
	if kind == nil {
		return foreign("it does not open with a known title")
	}
	last, lines := []byte(nil), 0
	for it := (items{frame}); len(it.rest) > 0; {
		if line := it.next(); len(line) > 0 {
			last = line
			lines++
		}
	}
	if kind.tail == "\x04" {
		if lines < 3 {
			return foreign("no lines between SOH and EOT")
		}
		last = last[len(last)-1:]
	}
	if !bytes.HasPrefix(last, []byte(kind.tail)) {
		return damaged("the block was cut")
	}
	r.Status, r.Why = Invalid, "a printed block with titles, not a live weight"
	return nil
}

// printedWeight reads a line such as "  1.94 kg".
func printedWeight(line []byte) (d Decimal, u Unit, ok bool) {
	i := bytes.LastIndexByte(line, ' ')
	if i < 0 {
		return Decimal{}, UnitNone, false
	}
	d, num := paddedNumber(line[:i])
	u, unit := unitWord(line[i+1:])
	return d, u, num && unit
}

func printedNumber(line []byte) bool {
	_, ok := paddedNumber(trimRight(line))
	return ok
}

func isCount(line []byte) bool {
	return bytes.HasSuffix(line, []byte(" pcs")) && printedNumber(line[:len(line)-4])
}

func isBlank(line []byte) bool { return len(trimBlanks(line)) == 0 }

// balances tells whether gross less tare is net, all with the same decimals.
func balances(gross, tare, net Decimal) bool {
	const limit = 1 << 60
	if gross.Places != net.Places || tare.Places != net.Places || max(gross.Coef, tare.Coef, net.Coef) > limit {
		return false
	}
	return signed(gross)-signed(tare) == signed(net)
}

func signed(d Decimal) int64 {
	if d.Neg {
		return -int64(d.Coef)
	}
	return int64(d.Coef)
}
