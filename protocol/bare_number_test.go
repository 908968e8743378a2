package protocol

import "testing"

func TestBareNumber(t *testing.T) {
	const fxi = "A&D FX-i manual, NU format"
	const rule = "built from that layout"
	runRows(t, bareNumber, []row{
		{"+00127.800\r\n", "127.800", "", "", "-", "ok", fxi},
		{"-00127.800\r\n", "-127.800", "", "", "-", "ok", rule},
		{"+00123.45\r\n", "123.45", "", "", "-", "ok", rule},
		{"+99999999\r\n", "", "", "", "-", "overload", fxi},
		{"-99999999\r\n", "", "", "", "-", "underload", rule},
		{"+999999.99\r\n", "", "", "", "-", "overload", rule},
	})
	runRefused(t, bareNumber, map[string]error{
		"+00000253\r\n":     ErrDamaged, // a count, or a lost point
		"00127.800\r\n":     ErrForeign,
		"127.800\r\n":       ErrForeign,
		"+127.800\r\n":      ErrDamaged,
		"+00127.8\r\n":      ErrDamaged,
		"+00127.800":        ErrDamaged, // no terminator: it may have been longer
		"+001.7.800\r\n":    ErrDamaged,
		"+00127.800g\r\n":   ErrForeign,
		"+ 0127.800\r\n":    ErrForeign,
		"+00127.8000\r\n":   ErrDamaged,
		"+.00127800\r\n":    ErrDamaged,
		"+00127800.\r\n":    ErrDamaged,
		"+00127.80O\r\n":    ErrForeign,
		"ST,+00123.45 g\r":  ErrForeign,
		"+00127.8+00127.\r": ErrForeign,
	})
}

func TestBareNumberTakesTheUnitOfTheUser(t *testing.T) {
	rs := decodeCut(bareNumber, Options{BlankUnit: UnitGram}, []byte("+00127.800\r\n"))
	assertEqual(t, 1, len(rs))
	assertEqual(t, UnitGram, rs[0].Unit)
}
