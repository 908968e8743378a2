package protocol

import "testing"

func TestHeaderSpace(t *testing.T) {
	const rule = "built from the DP format in the A&D manuals"
	runRows(t, headerSpace, []row{
		{"WT    +0.1278  g\r\n", "0.1278", "g", "true", "-", "ok", rule},
		{"US    -0.1278  g\r\n", "-0.1278", "g", "false", "-", "ok", rule},
		{"WT     0.0000  g\r\n", "0.0000", "g", "true", "-", "ok", rule},
		{"WT  +123.4567 mg\r\n", "123.4567", "mg", "true", "-", "ok", rule},
		{"QT      +1234 PC\r\n", "1234", "pcs", "true", "-", "ok", rule},
		{"WT          E   \r\n", "", "", "", "-", "overload", rule},
		{"WT         -E   \r\n", "", "", "", "-", "underload", rule},
	})
	runRefused(t, headerSpace, map[string]error{
		"WT     0.1278  g\r\n":  ErrDamaged, // the sign is missing
		"WT   + 0.1278  g\r\n":  ErrDamaged, // the sign stands apart
		"WT    +0.1278 g\r\n":   ErrDamaged,
		"QT      +1234  g\r\n":  ErrDamaged, // a count in grams
		"WT    +0.127  g\r\n":   ErrDamaged,
		"WT    +0.1278  x\r\n":  ErrDamaged,
		"WT    +0.12 8  g\r\n":  ErrDamaged,
		"WT    +0.1278g  \r\n":  ErrDamaged,
		"WX    +0.1278  g\r\n":  ErrForeign,
		"T    +0.1278  g\r\n":   ErrForeign,
		"ST,+00123.45  g\r\n":   ErrForeign,
		"US,-00183.69  g\r\n":   ErrForeign,
		"WT 1  +0.1278  g\r\n":  ErrDamaged,
		"WT    +0.1278\x02 g\r": ErrDamaged,
	})
	runCuts(t, headerSpace, "WT  +123.4567 mg", "\r\n")
	runCuts(t, headerSpace, "US    -0.1278  g", "\r\n")
}
