package protocol

// Fields of a frame: numbers, units, fixed words. These helpers look at every
// byte of what they are given, so that nothing left over passes unseen, and
// none of them allocates or looks for "the first number".

// number reads digits with at most one point, and a digit on either side of it.
// No sign, no blanks: the whole of b. A point at an edge is how a number looks
// that has lost something.
func number(b []byte) (Decimal, bool) {
	if len(b) == 0 || !isDigit(b[0]) || !isDigit(b[len(b)-1]) {
		return Decimal{}, false
	}
	return ParseDigits(b)
}

// paddedNumber reads a field that ends with its digits: blanks, a sign or none,
// blanks, digits. Blanks between a sign and its first digit are common, and a
// reader that starts at the first digit loses the minus.
func paddedNumber(b []byte) (Decimal, bool) {
	b = trimLeft(b)
	neg := false
	if len(b) > 0 && (b[0] == '+' || b[0] == '-') {
		neg = b[0] == '-'
		b = trimLeft(b[1:])
	}
	d, ok := number(b)
	d.Neg = neg && ok
	return d, ok
}

// signedNumber reads a field whose first column is the sign ('+', '-' or
// blank), and the rest of which is a number behind blanks.
func signedNumber(b []byte) (Decimal, bool) {
	if len(b) == 0 || b[0] != '+' && b[0] != '-' && b[0] != ' ' {
		return Decimal{}, false
	}
	d, ok := number(trimLeft(b[1:]))
	d.Neg = b[0] == '-' && ok
	return d, ok
}

// signedDigits is a number behind blanks, whose sign stood elsewhere.
func signedDigits(minus bool, b []byte) (Decimal, bool) {
	d, ok := number(trimLeft(b))
	d.Neg = minus && ok
	return d, ok
}

func isSign(c byte) bool { return c == '+' || c == '-' || c == ' ' }

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func trimLeft(b []byte) []byte {
	for len(b) > 0 && b[0] == ' ' {
		b = b[1:]
	}
	return b
}

func trimRight(b []byte) []byte {
	for len(b) > 0 && b[len(b)-1] == ' ' {
		b = b[:len(b)-1]
	}
	return b
}

func trimBlanks(b []byte) []byte { return trimLeft(trimRight(b)) }

// printable tells whether b holds printable ASCII and nothing else.
func printable(b []byte) bool {
	for _, c := range b {
		if c < ' ' || c > '~' {
			return false
		}
	}
	return true
}

// nines tells whether a number field is the filler of an overload: nines alone,
// with or without a point.
func nines(b []byte) bool {
	n := 0
	for _, c := range b {
		switch c {
		case '9':
			n++
		case '.':
		default:
			return false
		}
	}
	return n >= 4
}

// filler tells whether a field can be what an instrument writes instead of a
// number when it is out of range: blanks, dashes, nines in any notation.
// Whatever digits it holds are never a value.
func filler(b []byte) bool {
	for _, c := range b {
		switch c {
		case ' ', '+', '-', '.', 'E', '^', '_', '~', '=', '*':
		default:
			if !isDigit(c) {
				return false
			}
		}
	}
	return true
}

// leftUnit reads a unit field that is left-aligned.
func leftUnit(field []byte) (Unit, bool) { return unitWord(trimRight(field)) }

// rightUnit reads a unit field that is right-aligned.
func rightUnit(field []byte) (Unit, bool) { return unitWord(trimLeft(field)) }
