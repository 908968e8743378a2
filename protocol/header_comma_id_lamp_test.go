package protocol

import "testing"

func TestHeaderCommaIDLamp(t *testing.T) {
	const rule = "built from the CAS CI-600D layout"
	runRows(t, headerCommaIDLamp, []row{
		{"ST,GS,1\xc4,    13.5 kg\r\n", "13.5", "kg", "true", "gross", "ok", rule},
		{"US,GS,1\x84,   0.860 kg\r\n", "0.860", "kg", "false", "gross", "ok", rule},
		{"ST,NT,1\xc2,-  0.860 kg\r\n", "-0.860", "kg", "true", "net", "ok", rule},
		{"ST,NT,\x01\xc2,  -0.860 kg\r\n", "-0.860", "kg", "true", "net", "ok", rule},
		{"ST,GS,1\xc4,   245.6  g\r\n", "245.6", "g", "true", "gross", "ok", rule},
		{"ST,GS,1\xd4,    13.5 kg\r\n", "", "", "", "gross", "invalid", "the hold lamp, built from the layout"},
		{"US,NT,1\x92,    13.5 kg\r\n", "", "", "", "net", "invalid", "the hold lamp, built from the layout"},
		{"OL,GS,1\x84,         kg\r\n", "", "", "", "gross", "overload", rule},
		{"ERR 03\r\n", "", "", "", "-", "error", rule},
	})
	runRefused(t, headerCommaIDLamp, map[string]error{
		"ST,GS,1D,    13.5 kg\r\n":        ErrDamaged, // read with 7 data bits
		"ST,GS,1\x84,    13.5 kg\r\n":     ErrDamaged, // ST without the stable lamp
		"US,GS,1\xc4,    13.5 kg\r\n":     ErrDamaged,
		"ST,NT,1\xc4,    13.5 kg\r\n":     ErrDamaged,
		"ST,GS,1\xc4,   13.5 kg\r\n":      ErrDamaged,
		"ST,GS,1\xc4,    13.5 k\r\n":      ErrDamaged,
		"ST,GS,1\xc4,    13.5 xx\r\n":     ErrDamaged,
		"ST,GS,1\xc4,    1 .5 kg\r\n":     ErrDamaged,
		"ST,GS,1\xc4,    13.5kg \r\n":     ErrDamaged,
		"ST,GS,1\xc4     13.5 kg\r\n":     ErrForeign,
		"GS,1\xc4,    13.5 kg\r\n":        ErrForeign,
		"    13.5\r\n":                    ErrForeign, // the 10-byte form
		"ST,GS,+011.120kg\r\n":            ErrForeign,
		"ERR 0x\r\n":                      ErrForeign,
		"ST,TR,1\xc4,    13.5 kg\r\n":     ErrForeign,
		"OL,GS,1\x84,  hello  kg\r\n":     ErrDamaged,
		"ST,GS,1\xc4,    13.5 kg  9\r\n":  ErrDamaged,
		"ST,GS,1\xc4,\xb3\xb3\xb3 kg\r\n": ErrDamaged,
	})
	runCuts(t, headerCommaIDLamp, "ST,GS,1\xc4,    13.5 kg", "\r\n")
}
