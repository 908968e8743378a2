package protocol

import "testing"

func TestFixedSignUnit(t *testing.T) {
	const (
		le   = "Sartorius LE p. 51, CP pp. 55..57"
		rule = "built from that layout"
	)
	runRows(t, fixedSignUnit, []row{
		{"+   123.56 g  \r\n", "123.56", "g", "true", "-", "ok", le},
		{"+   1255.7 g  \r\n", "1255.7", "g", "true", "-", "ok", le},
		{"+111.25507 mg \r\n", "111.25507", "mg", "true", "-", "ok", le},
		{"-    12.30    \r\n", "-12.30", "", "false", "-", "ok", rule},
		{"+      253 pcs\r\n", "253", "pcs", "true", "-", "ok", rule},
		{"     0.000 kg \r\n", "0.000", "kg", "true", "-", "ok", rule},
		{"+     1.25 GN \r\n", "1.25", "gn", "true", "-", "ok", "OpenTrickler PR 79"},
		{"+     1.25 gr \r\n", "1.25", "gn", "true", "-", "ok", rule},
		{"+    1.250 ozt\r\n", "1.250", "ozt", "true", "-", "ok", rule},
		{"+   123.5[6] g  \r\n", "123.56", "g", "true", "-", "ok", "Sartorius manuals: not verified digits"},
		{"-   123.5[6]    \r\n", "-123.56", "", "false", "-", "ok", rule},
		{"      High    \r\n", "", "", "", "-", "overload", le},
		{"       H      \r\n", "", "", "", "-", "overload", rule},
		{"      Low     \r\n", "", "", "", "-", "underload", le},
		{"       L      \r\n", "", "", "", "-", "underload", rule},
		{"       --     \r\n", "", "", "", "-", "error", le},
		{"      Cal.    \r\n", "", "", "", "-", "error", le},
		{"     Err 101  \r\n", "", "", "", "-", "error", rule},
		{"   APP.ERR    \r\n", "", "", "", "-", "error", le},
	})
	runRefused(t, fixedSignUnit, map[string]error{
		"+   123.56 g\r\n":        ErrForeign, // columns lost
		"   123.56 g  \r\n":       ErrForeign,
		"+  123.56 g  \r\n":       ErrForeign,
		"+   123.56  g \r\n":      ErrDamaged, // sign-gap-unit2
		"+   123.56 x  \r\n":      ErrDamaged,
		"+   123.56 gx \r\n":      ErrDamaged,
		"+   1 3.56 g  \r\n":      ErrDamaged,
		"+   1.3.56 g  \r\n":      ErrDamaged,
		"+   123.56g   \r\n":      ErrForeign,
		"*   123.56 g  \r\n":      ErrForeign,
		"+    1.27 g   \r\n":      ErrForeign, // blank-unit-when-moving
		"+   123.5[6 g  \r\n":     ErrDamaged,
		"+   123.5[] g   \r\n":    ErrDamaged,
		"+   123.[56] g  \r\n":    ErrDamaged,
		"+   [1]23.56 g  \r\n":    ErrDamaged,
		"+   12[3].56 g  \r\n":    ErrDamaged,
		"+   123.5[6]5g  \r\n":    ErrForeign,
		"-  29.182 g \r\n":        ErrForeign,
		"     Err x01  \r\n":      ErrForeign,
		"      Higher  \r\n":      ErrForeign,
		"              \r\n":      ErrForeign,
		"+   123.56 g\x00 \r\n":   ErrDamaged,
		"N     +   123.56 g  \r":  ErrForeign,
		"+   123.56 + 12.5 g\r\n": ErrForeign,
	})
	runCuts(t, fixedSignUnit, "+   123.56 kg ", "\r\n")
	runCuts(t, fixedSignUnit, "+   123.5[6] g  ", "\r\n")
}
