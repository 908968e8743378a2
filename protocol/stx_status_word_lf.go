package protocol

// stx-status-word-lf: a relative of stx-status-word that ends with CR LF and carries
// no checksum.
//
//	STX , 0 _ 001234 000000 CR LF     18 bytes
//
// Source: T-Scale indicator manual, continuous format "Con2" (point code,
// status, unit codes, 6 + 6 digits, CR LF). The bits are taken to be those of
// stx-status-word, and every constant one is asked for, so that an instrument
// which uses them otherwise is refused rather than misread. CR LF is counted:
// in stx-status-word the same place holds a checksum.
var stxStatusWordLF = &Format{
	Name:    "stx-status-word-lf",
	Summary: "as stx-status-word, with CR LF at the end and no checksum",
	Example: `\x02,0 001234000000\r\n`,
	Split: func(b []byte, atEOF bool) (int, []byte) {
		return splitCounted(b, atEOF, stx, 18, 17, '\n')
	},
	Parse: func(frame []byte, r *Reading) error {
		if len(frame) == 18 {
			if _, ok := sixDigits(frame[10:16]); !ok && !allOf(frame[10:16], ' ') {
				return damaged("the tare is not digits")
			}
		}
		return parseStatusWordLF(frame, 18, r)
	},
	RangeBit: true,
	Lines:    linesFromMemory,
}

func parseStatusWordLF(frame []byte, n int, r *Reading) error {
	if len(frame) == 0 || frame[0] != stx {
		return foreign("it does not open with STX")
	}
	if len(frame) != n || frame[n-2] != '\r' || frame[n-1] != '\n' {
		return damaged("it does not end with CR LF at the right place")
	}
	return statusWord{}.fields(frame[1], frame[2], frame[3], frame[4:10], r)
}
