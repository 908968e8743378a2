package protocol

import "testing"

func TestSignDigitsUnitLetters(t *testing.T) {
	const (
		ker  = "KERN EG, EW interface sections"
		log  = "NSerialCommTools WEIGHT QA (hex log)"
		rule = "built from that layout"
	)
	runRows(t, signDigitsUnitLetters, []row{
		{"+00123.4 G S\r\n", "123.4", "g", "true", "-", "ok", ker},
		{"-65.4321KG U\r\n", "-65.4321", "kg", "false", "-", "ok", rule},
		{"+007.12/3 G S\r\n", "7.123", "g", "true", "-", "ok", log},
		{"+002.23/5 G S\r\n", "2.235", "g", "true", "-", "ok", log},
		{"+000123.4 G S\r\n", "123.4", "g", "true", "-", "ok", rule},
		{"+  123.4 GGS\r\n", "123.4", "g", "true", "-", "ok", rule},
		{"+00123.4 G  \r\n", "123.4", "g", "", "-", "ok", rule},
		{"+00123.4CTHU\r\n", "123.4", "ct", "false", "-", "ok", rule},
		{"+0001234PCLS\r\n", "1234", "pcs", "true", "-", "ok", rule},
		{"+00012.4 % S\r\n", "12.4", "%", "true", "-", "ok", rule},
		{"+00012.4OT S\r\n", "12.4", "ozt", "true", "-", "ok", rule},
		{"+00000.0 G E\r\n", "", "", "", "-", "error", rule},
	})
	runRefused(t, signDigitsUnitLetters, map[string]error{
		"+00.12/3 G S\r\n":      ErrDamaged, // a digit lost
		"+0123.4 G S\r\n":       ErrForeign,
		"00123.4 G S\r\n":       ErrForeign,
		"+00123.4 G \r\n":       ErrForeign,
		"+00123.4 X S\r\n":      ErrForeign,
		"+00123.4G  S\r\n":      ErrForeign, // the unit is on the right
		"+00123.4 GXS\r\n":      ErrForeign,
		"+00123.4 G X\r\n":      ErrForeign,
		"+00.23.4 G S\r\n":      ErrDamaged,
		"+00 23.4 G S\r\n":      ErrDamaged,
		"+00/12.3 G S\r\n":      ErrDamaged,
		"+0007.1/23 G S\r\n":    ErrForeign,
		"+007.1/23 G S\r\n":     ErrDamaged,
		"+00712/3 G S\r\n":      ErrDamaged, // no point before the slash
		"+00712./3 G S\r\n":     ErrDamaged,
		"+007.12/x G S\r\n":     ErrDamaged,
		"+0+123.4 G S\r\n":      ErrDamaged,
		"-----------------\r\n": ErrForeign,
		"------------\r\n":      ErrForeign,
		"+00123.4 G S7\r\n":     ErrForeign,
		"-  29.182 g \r\n":      ErrForeign, // sign-pad-unit
	})
	runCuts(t, signDigitsUnitLetters, "+00123.4 G S", "\r\n")
	runCuts(t, signDigitsUnitLetters, "+007.12/3KG S", "\r\n")
}
