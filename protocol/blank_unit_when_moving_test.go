package protocol

import "testing"

func TestBlankUnitWhenMoving(t *testing.T) {
	const fxi = "A&D FX-i manual, KF format (columns from memory)"
	const rule = "built from that layout"
	runRows(t, blankUnitWhenMoving, []row{
		{"+    1.27 g   \r\n", "1.27", "g", "true", "-", "ok", fxi},
		{"-    1.27 g   \r\n", "-1.27", "g", "true", "-", "ok", rule},
		{"+    1.27     \r\n", "1.27", "", "false", "-", "ok", rule},
		{"     0.00 g   \r\n", "0.00", "g", "true", "-", "ok", rule},
		{"+12345.67 mg  \r\n", "12345.67", "mg", "true", "-", "ok", rule},
		{"      H       \r\n", "", "", "", "-", "overload", rule},
		{"      L       \r\n", "", "", "", "-", "underload", rule},
	})
	runRefused(t, blankUnitWhenMoving, map[string]error{
		"     1.27 g   \r\n":  ErrDamaged, // the sign is missing
		"+    1.27 g  \r\n":   ErrForeign, // a column lost
		"+    1.27 x   \r\n":  ErrDamaged,
		"+    1.27g    \r\n":  ErrForeign,
		"+    1.2  g   \r\n":  ErrForeign,
		"+   123.56 g  \r\n":  ErrForeign, // fixed-sign-unit
		"+  1 1.27 g   \r\n":  ErrForeign,
		"+    1.27  g  \r\n":  ErrDamaged,
		"+    1.27 g  7\r\n":  ErrDamaged,
		"*    1.27 g   \r\n":  ErrForeign,
		"+    1.27\x00g   \r": ErrForeign,
	})
	runCuts(t, blankUnitWhenMoving, "+12345.67 mg  ", "\r\n")
}
