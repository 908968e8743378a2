package protocol

// sign-number-tail-letters: a sign, the number right behind it, and two letters
// at the end of the line.
//
//	+123.45   GS
//	^            sign, always there
//	 ^^^^^^      number, always with a point
//	       ^^^   blanks up to the letters, one at least
//	          ^  unit: G gram, O ounce, P pound, C carat, K kilogram, D pennyweight, %
//	           ^ S when stable, blank when not
//
// Source: Setra balance interface pages; Gram "FC" series manual p. 17. How
// many blanks stand between is not known for certain, so the width is only
// bounded. What keeps a cut line out is the sign, which a line without its head
// has lost, and the two letters, which a line without its tail has lost.
var signNumberTailLetters = &Format{
	Name:    "sign-number-tail-letters",
	Summary: "sign, number, blanks, one letter for the unit and S when stable",
	Example: `+123.45   GS\r\n`,
	Split:   splitLine,
	Parse:   parseSignNumberTailLetters,
	// One instrument pads to one width, whatever that is.
	OneLength: true,
	Lines: []Line{
		{9600, 8, 'N', 1, "from memory"},
		{2400, 7, 'E', 1, `Gram "FC" p. 17 counts the parity bit as one of 8; the rate is from memory`},
	},
	Ask: &Ask{Weight: []byte("p"), Tare: []byte("t")},
}

func parseSignNumberTailLetters(frame []byte, r *Reading) error {
	n := len(frame)
	if n < 7 || n > 16 || frame[0] != '+' && frame[0] != '-' {
		return foreign("no sign in front, or not 7 to 16 characters")
	}
	if r.Unit = tailUnits[frame[n-2]]; r.Unit == UnitNone {
		return foreign("no unit letter in the last column but one")
	}
	switch {
	case !r.rest(frame[n-1], 'S', ' '):
		return damaged("the last letter must be S or blank")
	case frame[n-3] != ' ':
		return damaged("no blank between number and letters")
	case !r.number(number(trimRight(frame[1:n-2]))) || r.Value.Places == 0:
		return damaged("the number is not digits with a point")
	}
	r.Value.Neg = frame[0] == '-'
	return r.ok()
}

var tailUnits = [256]Unit{'G': UnitGram, 'O': UnitOunce, 'P': UnitPound, 'C': UnitCarat, 'K': UnitKilogram, 'D': UnitPennyweight, '%': UnitPercent}
