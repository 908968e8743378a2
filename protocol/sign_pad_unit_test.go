package protocol

import "testing"

func TestSignPadUnit(t *testing.T) {
	const (
		gg   = "OpenTrickler issue 15 (capture)"
		rule = "built from that layout"
	)
	runRows(t, signPadUnit, []row{
		{"    0.000 g \r\n", "0.000", "g", "", "-", "ok", gg},
		{"-  29.182 g \r\n", "-29.182", "g", "", "-", "ok", gg},
		{"    0.665 g \r\n", "0.665", "g", "", "-", "ok", gg},
		{"+   0.665 ct\r\n", "0.665", "ct", "", "-", "ok", rule},
		{" ~~~~~~~~ g \r\n", "", "", "", "-", "overload", rule},
		{"-  ~~~~~~ g \r\n", "", "", "", "-", "underload", rule},
	})
	runRefused(t, signPadUnit, map[string]error{
		"   0.665 g \r\n":      ErrForeign,
		"    0.665 g\r\n":      ErrForeign,
		"    0.665  g\r\n":     ErrForeign,
		"    0.665 x \r\n":     ErrForeign,
		"    0.66  g \r\n":     ErrDamaged,
		"    0. 65 g \r\n":     ErrDamaged,
		"   -0.665 g \r\n":     ErrDamaged, // the sign has its column
		"    0.6.5 g \r\n":     ErrDamaged,
		"7   0.665 g \r\n":     ErrForeign,
		"    0.665g  \r\n":     ErrForeign,
		"+   123.56 g  \r\n":   ErrForeign,
		"       0.000 g  \r\n": ErrForeign,
		"    0.~65 g \r\n":     ErrDamaged,
		"            \r\n":     ErrForeign,
		"    0.665 g 1\r\n":    ErrForeign,
	})
	runCuts(t, signPadUnit, "-  29.182 kg", "\r\n")
}
