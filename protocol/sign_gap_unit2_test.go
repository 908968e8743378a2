package protocol

import "testing"

func TestSignGapUnit2(t *testing.T) {
	const axis = "Axis AKA-G p. 55"
	runRows(t, signGapUnit2, []row{
		{"-    12.34  g \r\n", "-12.34", "g", "", "-", "ok", axis},
		{"     12.34 kg \r\n", "12.34", "kg", "", "-", "ok", "built from that layout"},
		{"  ~~~~~~~~  g \r\n", "", "", "", "-", "overload", "built from that layout"},
	})
	runRefused(t, signGapUnit2, map[string]error{
		"-    12.34  g\r\n":  ErrForeign,
		"-   12.34  g \r\n":  ErrForeign,
		"+   123.56 g  \r\n": ErrForeign, // fixed-sign-unit
		"-    12.3x  g \r\n": ErrDamaged,
		"-    12.34  x \r\n": ErrForeign,
		"-7   12.34  g \r\n": ErrForeign,
		"-    1 .34  g \r\n": ErrDamaged,
	})
	runCuts(t, signGapUnit2, "-    12.34 kg ", "\r\n")
}
