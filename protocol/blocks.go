package protocol

import (
	"bytes"
)

// What print keys and label printers send is a block, one item a line. It holds
// gross, tare, net and totals; a reader that takes it line by line has a wrong
// weight in its hand most of the time. So a block is recognised from its head to
// its end and read as a whole, or not at all. A block with a line too many, too few
// or out of order is damaged. A block in which another one opens was cut, and the
// new one is read.

// block tells where a kind of block opens and ends. A line is what stands
// between line ends.
type block struct {
	head string // the block opens with a line that starts with it, or
	is   func(line []byte) bool
	tail string // the block ends with the line that starts with it
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
