package protocol

// stx-status-word-loose: as stx-status-word, with constant bits that are not.
//
//	STX , p p 001234 000000 CR ESC
//	 0  1 2 3 4      10     16 17
//
// It is for makers who set bit 6 of A, B or C, or bit 4 of C,
// in every frame. It cannot see an expanded display or a missing zero.
var stxStatusWordLoose = statusWord{name: "stx-status-word-loose", loose: true}.format(
	"as stx-status-word, for makers who set the constant bits their own way",
	`\x02,pp001234000000\r\x1b`)
