package protocol

// stx-status-word-short: as stx-status-word-lf, without the tare.
//
//	STX , 0 _ 001234 CR LF            12 bytes
//
// Source: T-Scale indicator manual, continuous format "Con2".
var stxStatusWordShort = &Format{
	Name:    "stx-status-word-short",
	Summary: "as stx-status-word-lf, without the tare digits",
	Example: `\x02,0 001234\r\n`,
	Split: func(b []byte, atEOF bool) (int, []byte) {
		return splitCounted(b, atEOF, stx, 12, 11, '\n')
	},
	Parse:    func(frame []byte, r *Reading) error { return parseStatusWordLF(frame, 12, r) },
	RangeBit: true,
	Lines:    linesFromMemory,
}
