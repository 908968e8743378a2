package text

// plural is which form of a sentence a number of things asks for. Which numbers are alike is
// from Unicode CLDR 48.2, supplemental/plurals (cardinal); the numbers here are whole ones.
type plural int

const (
	other plural = iota
	one
	many
	plurals // how many there are
)

var pluralNames = map[string]plural{"one": one, "many": many, "other": other}

// onlyOne is of English and German: i = 1 and v = 0.
func onlyOne(n int) plural {
	if n == 1 {
		return one
	}
	return other
}

// uptoOne is of French: one is i = 0,1; many is e = 0 and i != 0 and i % 1000000 = 0 and v = 0.
func uptoOne(n int) plural {
	if n == 0 {
		return one
	}
	return oneAndMillions(n)
}

// oneAndMillions is of Spanish: one is n = 1; many is as in French.
func oneAndMillions(n int) plural {
	switch {
	case n == 1:
		return one
	case n != 0 && n%1_000_000 == 0:
		return many
	}
	return other
}
