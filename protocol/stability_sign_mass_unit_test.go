package protocol

import "testing"

func TestStabilitySignMassUnit(t *testing.T) {
	const (
		rad  = "Radwag communication protocol"
		rule = "built from that layout"
	)
	runRows(t, stabilitySignMassUnit, []row{
		{"      183.64 g  \r\n", "183.64", "g", "true", "-", "ok", rule},
		{"? -    2.237 lb \r\n", "-2.237", "lb", "false", "-", "ok", rad},
		{"  -     183.64 g  \r\n", "-183.64", "g", "true", "-", "ok", rule + ", mass 11"},
		{"^      0.000 kg \r\n", "", "", "", "-", "overload", rad},
		{"v      0.000 kg \r\n", "", "", "", "-", "underload", rad},
		{"S    -      8.5 g  \r\n", "-8.5", "g", "true", "-", "ok", rad},
		{"SI ?       18.5 kg \r\n", "18.5", "kg", "false", "-", "ok", rad},
		{"SUI?       18.5 ozt\r\n", "18.5", "ozt", "false", "-", "ok", rule},
		{"S  ^       18.5 kg \r\n", "", "", "", "-", "overload", rule},
		{"OT         18.5 kg \r\n", "", "", "", "tare", "invalid", rule},
		{"SI I\r\n", "", "", "", "-", "error", rad},
		{"S E\r\n", "", "", "", "-", "error", rad},
		{"S ^\r\n", "", "", "", "-", "overload", rad},
		{"S v\r\n", "", "", "", "-", "underload", rad},
		{"S A\r\n", "", "", "", "-", "invalid", rad},
		{"CU1 A\r\n", "", "", "", "-", "invalid", rad},
		{"Z D\r\n", "", "", "", "-", "invalid", rad},
		{"ES\r\n", "", "", "", "-", "error", rad},
		{"^\r\n", "", "", "", "-", "overload", rad},
		{"v\r\n", "", "", "", "-", "underload", rad},
	})
	runRefused(t, stabilitySignMassUnit, map[string]error{
		"      183.64 g \r\n":   ErrForeign,
		"     183.64 g  \r\n":   ErrForeign,
		"      183.64 x  \r\n":  ErrDamaged,
		"      1 3.64 g  \r\n":  ErrDamaged,
		"      183.6  g  \r\n":  ErrDamaged,
		"!     183.64 g  \r\n":  ErrForeign,
		"     -183.64 g  \r\n":  ErrDamaged, // float-sign-unit: here the sign has its column
		"?7-    2.237 lb \r\n":  ErrForeign,
		"X    -      8.5 g  \r": ErrForeign,
		"S X\r\n":               ErrDamaged,
		"Q A\r\n":               ErrForeign,
		"x\r\n":                 ErrForeign,
		"      183.64  g \r\n":  ErrDamaged,
		"      1.3.64 g  \r\n":  ErrDamaged,
		"? +    2.237 lb \r\n":  ErrForeign,
		"OT         1x.5 kg \r": ErrDamaged,
		"S S     100.00 g\r\n":  ErrForeign,
	})
	runCuts(t, stabilitySignMassUnit, "? -    2.237 lb ", "\r\n")
	runCuts(t, stabilitySignMassUnit, "SI ? -     18.5 kg ", "\r\n")
}
