package protocol

// stx-status-word-sum8: as stx-status-word, with another checksum.
//
//	STX , 0 _ 001234 000000 CR D5
//	 0  1 2 3 4      10     16 17
//
// Source: plain sum: Rockwell 57C428 App. D.
//
// It is for makers who send the low 8 bits of the plain sum.
// It is a format of its own and not one more thing that the first one lets
// pass: a frame that may fit either of two checks is checked by neither.
var stxStatusWordSum8 = statusWord{name: "stx-status-word-sum8", check: checkSum8}.format(
	"as stx-status-word, with the low 8 bits of the sum as checksum",
	`\x02,0 001234000000\r\xd5`)
