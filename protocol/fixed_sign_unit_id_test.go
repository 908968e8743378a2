package protocol

import "testing"

func TestFixedSignUnitID(t *testing.T) {
	const (
		le   = "Sartorius LE p. 51, CP pp. 55..57"
		drv  = "numat/sartorius tests/test_driver.py"
		rule = "built from that layout"
	)
	runRows(t, fixedSignUnitID, []row{
		{"N     +   123.56 g  \r\n", "123.56", "g", "true", "net", "ok", le},
		{"G     +   9.9999 kg \r\n", "9.9999", "kg", "true", "gross", "ok", drv},
		{"N     +   5.4321    \r\n", "5.4321", "", "false", "net", "ok", drv},
		{"N     -   123.5[6] g  \r\n", "-123.56", "g", "true", "net", "ok", rule},
		{"Qnt   +      253 pcs\r\n", "253", "pcs", "true", "-", "ok", rule},
		{"Qnt   +      253    \r\n", "253", "pcs", "false", "-", "ok", "a count that moves shows no unit either"},
		{"Stat        High    \r\n", "", "", "", "-", "overload", rule},
		{"Stat        Low     \r\n", "", "", "", "-", "underload", rule},
		{"Stat     Err 101    \r\n", "", "", "", "-", "error", rule},
		{"Stat       OFF\r\n", "", "", "", "-", "error", drv},
		{"T1    +   123.56 g  \r\n", "", "", "", "tare", "invalid", le},
		{"nRef  +      253 pcs\r\n", "", "", "", "-", "invalid", le},
	})
	runRefused(t, fixedSignUnitID, map[string]error{
		"+   123.56 g  \r\n":        ErrForeign,
		"X     +   123.56 g  \r\n":  ErrForeign,
		"n     +   123.56 g  \r\n":  ErrForeign,
		"N    +   123.56 g  \r\n":   ErrForeign,
		"N     +   123.56 g \r\n":   ErrDamaged,
		"N     +  123.56 g  \r\n":   ErrDamaged,
		"N     +   123.56 q  \r\n":  ErrDamaged,
		"N     7   123.56 g  \r\n":  ErrDamaged,
		"N     +   12x.56 g  \r\n":  ErrDamaged,
		"Stat  +   123.56 g  \r\n":  ErrDamaged,
		"Stat       what     \r\n":  ErrDamaged,
		"N     \r\n":                ErrForeign,
		"T1    +   1x3.56 g  \r\n":  ErrDamaged,
		"N  2  +   123.56 g  \r\n":  ErrForeign,
		"N     +   123.5[] g   \r":  ErrDamaged,
		"Qnt   +   253.00 g  \r\n":  ErrDamaged, // a count in grams
		"NG    +   123.56 g  \r\n":  ErrForeign,
		"N\x00    +   123.56 g  \r": ErrForeign,
	})
	runCuts(t, fixedSignUnitID, "N     +   123.56 kg ", "\r\n")
}
