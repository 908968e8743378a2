package protocol

import "testing"

func TestHeaderCommaMode(t *testing.T) {
	const (
		ci   = "CAS CI-600D manual"
		qhw  = "NSerialCommTools TScaleQHW (hex log)"
		nhb  = "NSerialCommTools TScaleNHB (hex log)"
		dini = "Dini Argeo indicator protocol"
		odoo = "tests of ellery-it/odoo-serial-scale-drivers"
		web  = "imTigger/webapp-hardware-bridge issue 4 (capture)"
		rule = "built from the layout in these"
	)
	runRows(t, headerCommaMode, []row{
		{"ST,GS,+011.120kg\r\n", "11.120", "kg", "true", "gross", "ok", ci},
		{"ST,NT,+  1.234kg\r\n", "1.234", "kg", "true", "net", "ok", nhb},
		{"ST,NT,-  0.500kg\r\n", "-0.500", "kg", "true", "net", "ok", odoo},
		{"ST,GS,   245.6 g\r\n", "245.6", "g", "true", "gross", "ok", web},
		{"US,GS,   245.3 g\r\n", "245.3", "g", "false", "gross", "ok", web},
		{"ST,GS    20.7g  \r\n", "20.7", "g", "true", "gross", "ok", qhw},
		{"US,GS   104.8g  \r\n", "104.8", "g", "false", "gross", "ok", qhw},
		{"ST,GS,     0.0,kg\r\n", "0.0", "kg", "true", "gross", "ok", dini},
		{"ST,NT, 0001.25,kg\r\n", "1.25", "kg", "true", "net", "ok", dini},
		{"US,NT,-113.0254kg\n", "-113.0254", "kg", "false", "net", "ok", odoo},
		{"OL,GS,+999.999kg\r\n", "", "", "", "gross", "overload", rule},
		{"OL,GS,-999.999kg\r\n", "", "", "", "gross", "underload", rule},
		{"UL,NT,-999.999kg\r\n", "", "", "", "net", "underload", rule},
		{"OL,GS,--------kg\r\n", "", "", "", "gross", "overload", rule},
		{"OL,GS,        ,kg\r\n", "", "", "", "gross", "overload", rule},
		{"OL,NT,          \r\n", "", "", "", "net", "overload", rule},
		{"TL,GS,     0.0,kg\r\n", "", "", "", "gross", "error", rule},
		{"ST,TR,+  1.234kg\r\n", "", "", "", "tare", "invalid", rule},
		{"ST,G,+  1.234kg\r\n", "1.234", "kg", "true", "gross", "ok", rule},
		{"US,N,-  1.234lb\r\n", "-1.234", "lb", "false", "net", "ok", rule},
		{"01ST,GS,     0.0,kg\r\n", "0.0", "kg", "true", "gross", "ok", rule},
		{"01,ST,GS,     0.0,kg\r\n", "0.0", "kg", "true", "gross", "ok", rule},
		{"ST,GS,  -0.500kg\r\n", "-0.500", "kg", "true", "gross", "ok", rule},
		{"ST,GS,+  1.234 kg\r\n", "1.234", "kg", "true", "gross", "ok", rule},
		{"ST,GS,+   1.234kg\r\n", "1.234", "kg", "true", "gross", "ok", rule},
		{"ST,GS,+  12345 g\r\n", "12345", "g", "true", "gross", "ok", rule},
		{"ST,GS,+0001500kg\r\n", "1500", "kg", "true", "gross", "ok", rule},
		{"ST,GS,+      0kg\r\n", "0", "kg", "true", "gross", "ok", rule},
		{"ST,GS,+ 12.345t \r\n", "12.345", "t", "true", "gross", "ok", rule},
		{"ST,GS,+011.120kg", "11.120", "kg", "true", "gross", "ok", "the line shows itself whole"},
	})
	runRefused(t, headerCommaMode, map[string]error{
		"S    20.7g  \r\n":                     ErrForeign, // the head of a public hex log
		"   G\r\n":                             ErrForeign,
		"\x00\x00\x7f\x7f\r\n":                 ErrForeign,
		"GS    20.7g  \r\n":                    ErrForeign,
		"20.7g  \r\n":                          ErrForeign,
		"ST,+00123.45  g\r\n":                  ErrForeign, // header-comma
		"ST,GS,1\xc4,    13.5 kg\r\n":          ErrDamaged, // header-comma-id-lamp
		"US,NT,113.0254kg\r\n":                 ErrDamaged, // the minus is lost
		"US,NT,-1130254kg\r\n":                 ErrDamaged, // the point is lost
		"ST,GS,-  05000kg\r\n":                 ErrDamaged,
		"ST,GS,+00011120kg\r\n":                ErrDamaged,
		"ST,GS,11.120kg\r\n":                   ErrDamaged,
		"ST,GS,+11.120kg\r\n":                  ErrDamaged, // a digit lost
		"ST,GS,+011.120k\r\n":                  ErrDamaged,
		"ST,GS,+011.120\r\n":                   ErrDamaged,
		"ST,GS,+011.120xg\r\n":                 ErrDamaged,
		"ST,GS,+0.1.120kg\r\n":                 ErrDamaged,
		"ST,GS,+011.12 kg\r\n":                 ErrDamaged, // the last digit lost
		"ST,GS,+ 1 .120kg\r\n":                 ErrDamaged,
		"ST,GS,+011,120kg\r\n":                 ErrDamaged,
		"ST,GS,++11.120kg\r\n":                 ErrDamaged,
		"ST,GS,+-11.120kg\r\n":                 ErrDamaged,
		"ST,GS,+011.120kg,    1\r\n":           ErrDamaged, // two numbers
		"ST,GS,+011.120kg,+  0.500kg\r\n":      ErrDamaged,
		"ST,GS,+01ST,GS,+011.120kg\r\n":        ErrDamaged,
		"ST,XX,+011.120kg\r\n":                 ErrForeign,
		"XX,GS,+011.120kg\r\n":                 ErrForeign,
		"ST;GS;+011.120kg\r\n":                 ErrForeign,
		"ST,GS   20.7g  \r\n":                  ErrDamaged,
		"ST,GS    20.7 g \r\n":                 ErrDamaged,
		"ST,GS    20.7g\r\n":                   ErrDamaged, // cut, although it looks right
		"ST,GS,     0.0,k\r\n":                 ErrDamaged,
		"ST,GS,    0.0,kg\r\n":                 ErrDamaged,
		"ST,GS,+011.120\x01g\r\n":              ErrDamaged,
		"OL,GS,+999.999zz\r\n":                 ErrDamaged,
		"OL,GS,hello world\r\n":                ErrDamaged,
		"OL,GS,+999.999kg+999.999kg\r\n":       ErrDamaged,
		"1,ST,   2.70,   0.00PT,     1,kg\r\n": ErrForeign, // an extended record
		"001ST,GS,     0.0,kg\r\n":             ErrForeign,
	})
	for _, line := range []string{"ST,GS,+011.120kg", "ST,NT,-  0.500kg", "ST,GS,   245.6 g", "ST,GS   104.8g  ",
		"ST,NT, 0001.25,kg", "US,NT,-113.0254kg", "ST,GS,+ 12.345oz", "01ST,GS,    12.5,kg", "ST,GS,+  1.234 kg"} {
		runCuts(t, headerCommaMode, line, "\r\n")
	}
}
