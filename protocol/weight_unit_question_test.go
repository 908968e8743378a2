package protocol

import "testing"

func TestWeightUnitQuestion(t *testing.T) {
	const (
		def  = "NSerialCommTools DEFENDER3000 (hex log)"
		spun = "NSerialCommTools WEIGHT SPUN (hex log)"
		man  = "Ohaus Navigator, Explorer, AS series manuals"
		rule = "built from the layouts in these"
	)
	runRows(t, weightUnitQuestion, []row{
		{"   0.360 kg    G\r\n", "0.360", "kg", "true", "gross", "ok", def},
		{"   0.415 kg   ?G\r\n", "0.415", "kg", "false", "gross", "ok", def},
		{"-  1.340 kg   ?N\r\n", "-1.340", "kg", "false", "net", "ok", def},
		{"    20.0 kg    G\r\n", "20.0", "kg", "true", "gross", "ok", spun},
		{"    1.340 kg    NET\r\n", "1.340", "kg", "true", "net", "ok", rule},
		{"    1.340 kg    T\r\n", "", "", "", "tare", "invalid", rule},
		{"       0.01 g ?\r\n", "0.01", "g", "false", "-", "ok", man},
		{"     192.21 g\r\n", "192.21", "g", "true", "-", "ok", man},
		{"    -192.21 g\r\n", "-192.21", "g", "true", "-", "ok", rule},
		{"    192.21 g\r\n", "192.21", "g", "true", "-", "ok", rule},
		{"     192.21 g     ? NET\r\n", "192.21", "g", "false", "net", "ok", rule},
		{"     192.21 g         G\r\n", "192.21", "g", "true", "gross", "ok", rule},
		{"       12.73 g    ?\r\n", "12.73", "g", "false", "-", "ok", man},
		{"      0.4500 oz    \r\n", "0.4500", "oz", "true", "-", "ok", man},
		{"-      12.73 g    ?\r\n", "-12.73", "g", "false", "-", "ok", rule},
		{"     192.21 g   14:05:00\r\n", "192.21", "g", "true", "-", "ok", "built from the layout: interval printing appends the time"},
		{"       0.01 g ? 14:05:00\r\n", "0.01", "g", "false", "-", "ok", "as before"},
		{"     207.80 g  TOTAL\r\n", "", "", "", "-", "invalid", man},
		{"OK!\r\n", "", "", "", "-", "invalid", man},
		{"ES\r\n", "", "", "", "-", "error", man},
	})
	runRefused(t, weightUnitQuestion, map[string]error{
		"     192.21 g   14:65:00\r\n": ErrDamaged, // no time of day
		"     192.21 g   14:05:0\r\n":  ErrDamaged,
		"     192.21 g":                ErrDamaged, // no terminator: '?' may have followed
		"       0.01 g \r\n":           ErrDamaged, // '?' lost
		"       12.73 g   \r\n":        ErrDamaged,
		"   0.415 kg   ?\r\n":          ErrDamaged,
		"   0.415 kg\r\n":              ErrDamaged,
		"0.415 kg   ?G\r\n":            ErrForeign,
		"192.21 g\r\n":                 ErrForeign,
		"     192.21 x\r\n":            ErrForeign,
		"     192.21g\r\n":             ErrForeign,
		"     192.21\r\n":              ErrForeign,
		"     1.2.21 g\r\n":            ErrForeign,
		"     1 2.21 g\r\n":            ErrForeign,
		"     192.21 g  WHAT\r\n":      ErrDamaged,
		"     192.21 g 12.5 g\r\n":     ErrDamaged,
		"-    192.21 g\r\n":            ErrDamaged, // the lab families write the minus at the digits
		"    0.000 g \r\n":             ErrDamaged, // sign-pad-unit ends its number in column 9
		"+   123.56 g  \r\n":           ErrForeign, // fixed-sign-unit
		"   0.415 kg   xG\r\n":         ErrDamaged,
		"   0.415 kg  1?G\r\n":         ErrDamaged,
		"   0.415 kg   ?X\r\n":         ErrDamaged,
		"     192.21 g\x01\r\n":        ErrForeign,
		"OK\r\n":                       ErrForeign,
		"   0.415 kg   ?G7\r\n":        ErrDamaged,
		"       12.73 g    !\r\n":      ErrDamaged,
		"       12.73 g 9  ?\r\n":      ErrDamaged,
		"S S     100.00 g\r\n":         ErrForeign,
		"       12.73 g    ? G\r\n":    ErrDamaged,
		"   192.21 g\r\n":              ErrDamaged,
	})
	runCuts(t, weightUnitQuestion, "   0.415 kg   ?G", "\r\n")
	runCuts(t, weightUnitQuestion, "-  1.340 kg   ?N", "\r\n")
	runCuts(t, weightUnitQuestion, "       12.73 oz   ?", "\r\n")
	runCuts(t, weightUnitQuestion, "    -192.21 kg ?", "\r\n")
}
