package protocol

import (
	"bytes"
)

// titled-block: tickets with words for titles. They are recognised and never
// read, for what stands in which line differs from maker to maker:
//
//	GROSS … Total       Adam Highland manual
//	Date … PCS          Adam CBC manual
//	N.W.:               Jadever manual
//	SOH lines EOT       Symmetry manual
var titledBlock = &Format{
	Name:    "titled-block",
	Summary: "printed block with words for titles: recognised, never read",
	Example: `GROSS    1.94 kg\r\nNo.      3\r\nTotal    5.82 kg\r\n`,
	Split:   blockSplit(titledBlocks...),
	Parse:   parseTitledBlock,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
}

var titledBlocks = []block{
	{head: "GROSS", tail: "Total"},
	{head: "Date", tail: "PCS"},
	{head: "N.W.:", tail: "N.W.:"},
	{head: "\x01", tail: "\x04"},
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
	return r.is(Invalid, "a printed block with titles, not a live weight")
}
