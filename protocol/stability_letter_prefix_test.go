package protocol

import "testing"

func TestStabilityLetterPrefix(t *testing.T) {
	const (
		cux  = "CAS CUX p. 99, CBL p. 30; Shimadzu balance manuals"
		rule = "built from that layout"
	)
	runRows(t, stabilityLetterPrefix, []row{
		{"-  186.65g \r", "-186.65", "g", "", "-", "ok", cux},
		{"S-  186.65g \r", "-186.65", "g", "true", "-", "ok", cux},
		{"S  1000.00g \r", "1000.00", "g", "true", "-", "ok", cux},
		{"U  1000.00g \r\n", "1000.00", "g", "false", "-", "ok", rule},
		{"S     0.10kg\r", "0.10", "kg", "true", "-", "ok", rule},
		{"S     0.10mom\r", "0.10", "mom", "true", "-", "ok", rule},
		{"     0.10ozt\r", "0.10", "ozt", "", "-", "ok", rule},
		{"U     oL   \r", "", "", "", "-", "overload", rule},
		{"U    -oL   \r", "", "", "", "-", "underload", rule},
	})
	runRefused(t, stabilityLetterPrefix, map[string]error{
		"-  186.65g ":        ErrDamaged, // no terminator
		"-  186.65g\r":       ErrForeign,
		"- 186.65g \r":       ErrForeign,
		"S-  186.65x \r":     ErrDamaged,
		"S-  186.65 g\r":     ErrForeign,
		"S-  1 6.65g \r":     ErrDamaged,
		"S-  1.6.65g \r":     ErrDamaged,
		"X-  186.65g \r":     ErrForeign,
		"S+  186.65g \r":     ErrForeign,
		"-  29.182 g \r\n":   ErrForeign, // sign-pad-unit
		"S-  186.65g  \r":    ErrDamaged,
		"S-  186.65g 7\r":    ErrDamaged,
		"SS-  186.65g \r":    ErrForeign,
		"S     OL   \r":      ErrForeign,
		"S S     100.00 g\r": ErrForeign,
	})
	runCuts(t, stabilityLetterPrefix, "S-  186.65kg", "\r")
}
