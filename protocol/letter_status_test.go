package protocol

import "testing"

func TestLetterStatus(t *testing.T) {
	const (
		js   = "METTLER TOLEDO JS Series Operating Instructions p. 30"
		test = "InstrumentKit, PyLabRobot and other public driver tests"
		rule = "built from the layout in that manual"
		pr   = "artisan-roaster-scope/artisan PR 2223 (capture)"
	)
	runRows(t, letterStatus, []row{
		{"S S     100.00 g\r\n", "100.00", "g", "true", "net", "ok", js},
		{"S D     129.07 g\r\n", "129.07", "g", "false", "net", "ok", test},
		{"S S    -100.00 g\r\n", "-100.00", "g", "true", "net", "ok", test},
		{"S S    -0.0082 g\r\n", "-0.0082", "g", "true", "net", "ok", rule},
		{"S S     0.1278 ozt\r\n", "0.1278", "ozt", "true", "net", "ok", rule},
		{"S S        253 PCS\r\n", "253", "pcs", "true", "net", "ok", rule},
		{"S D 12:07.50 lb:oz\r\n", "199.50", "oz", "false", "net", "ok", pr + "; 12 lb 7.50 oz"},
		{"S D  0:15.95 lb:oz\r\n", "15.95", "oz", "false", "net", "ok", rule},
		{"S S -1:00.50 lb:oz\r\n", "-16.50", "oz", "true", "net", "ok", rule},
		{"S +\r\n", "", "", "", "-", "overload", js},
		{"S -\r\n", "", "", "", "-", "underload", js},
		{"S I\r\n", "", "", "", "-", "error", js},
		{"S L\r\n", "", "", "", "-", "error", js},
		{"ES\r\n", "", "", "", "-", "error", js},
		{"ET\r\n", "", "", "", "-", "error", js},
		{"EL\r\n", "", "", "", "-", "error", js},
		{"S S      Error 10b\r\n", "", "", "", "-", "error", test},
		{"S S      Error 5t\r\n", "", "", "", "-", "error", rule},
		{"TA A      2.486 g\r\n", "", "", "", "tare", "invalid", test},
		{"T S      2.486 g\r\n", "", "", "", "tare", "invalid", rule},
		{"TI D      2.486 g\r\n", "", "", "", "tare", "invalid", rule},
		{"TAC A\r\n", "", "", "", "-", "invalid", rule},
		{"Z A\r\n", "", "", "", "-", "invalid", test},
		{"ZI S\r\n", "", "", "", "-", "invalid", rule},
		{"Z I\r\n", "", "", "", "-", "error", js},
		{"T +\r\n", "", "", "", "-", "error", js},
		{"I4 A \"1234567\"\r\n", "", "", "", "-", "invalid", test},
		{"I2 A \"JS603C 620.00 g\"\r\n", "", "", "", "-", "invalid", rule + "; a number that is no weight"},
		{"I0 B 0 \"I0\"\r\n", "", "", "", "-", "invalid", rule},
	})
	runRefused(t, letterStatus, map[string]error{
		"S S     - 1.23 g\r\n":      ErrDamaged, // the minus touches the first digit: one was lost
		"S S     100.00 g":          ErrDamaged, // no terminator: the unit may have been longer
		"S S    100.00 g\r\n":       ErrDamaged, // a blank lost
		"S S     10.00 g\r\n":       ErrDamaged, // a digit lost
		"S S     100.00 \r\n":       ErrDamaged,
		"S S     100.00\r\n":        ErrDamaged,
		"S S     100.00 x\r\n":      ErrDamaged,
		"S S     100.00g\r\n":       ErrDamaged,
		"S S     100.00  g\r\n":     ErrDamaged,
		"S S     1.0.00 g\r\n":      ErrDamaged,
		"S S     1 0.00 g\r\n":      ErrDamaged,
		"S X     100.00 g\r\n":      ErrDamaged,
		"S +     100.00 g\r\n":      ErrDamaged,
		"S S\r\n":                   ErrDamaged,
		"S \r\n":                    ErrForeign,
		"S      100.00 g\r\n":       ErrDamaged,
		"S     100.00 g\r\n":        ErrDamaged,
		"D     129.07 g\r\n":        ErrForeign,
		"S A\r\n":                   ErrForeign, // stability-sign-mass-unit
		"SI I\r\n":                  ErrForeign,
		"S D 12:17.50 lb:oz\r\n":    ErrDamaged, // 17 ounces make a pound and one
		"S D 12:07.5 lb:oz\r\n":     ErrDamaged,
		"S D 12.07.50 lb:oz\r\n":    ErrDamaged,
		"S D 12:7 lb:oz\r\n":        ErrDamaged,
		"S D 12:07.50 lb\r\n":       ErrDamaged,
		"S D :07.50 lb:oz\r\n":      ErrDamaged,
		"S D 12:07:50 lb:oz\r\n":    ErrDamaged,
		"S S      Error 10x\r\n":    ErrDamaged,
		"S S      Errors\r\n":       ErrDamaged,
		"EX\r\n":                    ErrForeign,
		"TA A   2.486 g\r\n":        ErrDamaged,
		"Z X\r\n":                   ErrDamaged,
		"I4\r\n":                    ErrForeign,
		"I4 A\r\n":                  ErrDamaged,
		"S S     100.00 gS S\r\n":   ErrDamaged,
		"S S     100\x00.00 g\r\n":  ErrDamaged,
		"s s     100.00 g\r\n":      ErrForeign,
		"S\x00S     100.00 g\r\n":   ErrForeign,
		"S S     100.00 g 5\r\n":    ErrDamaged,
		"S S     100.00 kg/h\r\n":   ErrDamaged,
		"S S 99999999999.0 g\r\n":   ErrDamaged,
		"S S     100.00 g     \r\n": ErrDamaged,
	})
	runCuts(t, letterStatus, "S S     100.00 g", "\r\n")
	runCuts(t, letterStatus, "S S   -12.3456 kg", "\r\n")
}
