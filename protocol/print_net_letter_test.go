package protocol

import "testing"

func TestPrintNetLetter(t *testing.T) {
	const log = "NSerialCommTools MS204TS00 (hex log)"
	runRows(t, printNetLetter, []row{
		{"     N       0.3749 g   \r\n", "0.3749", "g", "", "net", "ok", log},
		{"     N       0.3746 g   \r\n", "0.3746", "g", "", "net", "ok", log},
		{"     N     123.3746 mg  \r\n", "123.3746", "mg", "", "net", "ok", "built from that layout"},
		{"     N      -0.3746 g   \r\n", "-0.3746", "g", "", "net", "ok", "built from that layout"},
	})
	runRefused(t, printNetLetter, map[string]error{
		"     N       0.3749 g  \r\n":  ErrDamaged,
		"     N      0.3749 g   \r\n":  ErrDamaged,
		"     N      0.3749 g    \r\n": ErrDamaged,
		"     N       0.3749 x   \r\n": ErrDamaged,
		"     N       0.37 9 g   \r\n": ErrDamaged,
		"     G       0.3749 g   \r\n": ErrForeign,
		"    N       0.3749 g   \r\n":  ErrForeign,
		"N       0.3749 g   \r\n":      ErrForeign,
		"     N7      0.3749 g   \r\n": ErrDamaged,
	})
	runCuts(t, printNetLetter, "     N     123.3746 mg  ", "\r\n")
}
