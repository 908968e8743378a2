package protocol

import "testing"

func TestHeaderCommaCSV(t *testing.T) {
	const (
		fxi  = "A&D FX-i manual, CSV format"
		adc  = "built from the rule in A&D AD-4212D p. 27"
		rule = "built from the layout in the A&D manuals"
	)
	runRows(t, headerCommaCSV, []row{
		{"ST,+012.0078,  g\r\n", "12.0078", "g", "true", "-", "ok", fxi},
		{"US,-012.0078,  g\r\n", "-12.0078", "g", "false", "-", "ok", rule},
		{"QT,+00012345, PC\r\n", "12345", "pcs", "true", "-", "ok", rule},
		{"OL,+9999999E+19,  g\r\n", "", "", "", "-", "overload", fxi},
		{"OL,-9999999E+19,  g\r\n", "", "", "", "-", "underload", rule},
		{"OL;+9999999E+19;  g\r\n", "", "", "", "-", "overload", adc},
		{"ST;+0000,1278;  g\r\n", "0.1278", "g", "true", "-", "ok", adc},
		{"US;-0012,3456;  g\r\n", "-12.3456", "g", "false", "-", "ok", adc},
		{"LAB-0123, 2004/07/01, 12:34:56, ST,+0000.1278,  g\r\n", "0.1278", "g", "true", "-", "ok", fxi},
		{"2004/07/01, 12:34:56, ST,+0000.1278,  g\r\n", "0.1278", "g", "true", "-", "ok", rule},
		{"12:34:56, US,+0000.1278,  g\r\n", "0.1278", "g", "false", "-", "ok", rule},
		{"LAB-0123, ST,-0000.1278,  g\r\n", "-0.1278", "g", "true", "-", "ok", rule},
		{"LAB-0123; 01/07/2004; 12:34:56; ST;+0000,1278;  g\r\n", "0.1278", "g", "true", "-", "ok", adc},
		{"EC,E11\r\n", "", "", "", "-", "error", fxi},
	})
	runRefused(t, headerCommaCSV, map[string]error{
		"ST,+00123.45  g\r\n":                         ErrForeign, // header-comma
		"ST,GS,+ 1.2345,kg\r\n":                       ErrForeign, // header-comma-mode
		"ST,GS,     0.0,kg\r\n":                       ErrForeign,
		"ST;+00001278;  g\r\n":                        ErrDamaged, // the mark is lost
		"QT,+012.0078,  g\r\n":                        ErrDamaged,
		"ST,+012.0078,  x\r\n":                        ErrDamaged,
		"ST,+012.0078,\r\n":                           ErrDamaged,
		"ST,+012.0078\r\n":                            ErrForeign,
		"ST,+12.0078,  g\r\n":                         ErrDamaged,
		"ST,+012.0078, g\r\n":                         ErrDamaged,
		"ST,+0.2.0078,  g\r\n":                        ErrDamaged,
		"ST;+012.0078;  g\r\n":                        ErrDamaged, // point in the comma dialect
		"ST;+0,2,0078;  g\r\n":                        ErrDamaged,
		"ST,+0000,1278;  g\r\n":                       ErrForeign, // separators mixed
		"XX,+012.0078,  g\r\n":                        ErrForeign,
		"ST, 012.0078,  g\r\n":                        ErrDamaged,
		"ST,+0001.0000,  g,ST,+0000.1278,  g\r\n":     ErrDamaged, // two weights
		"+0001.000, ST,+0000.1278,  g\r\n":            ErrDamaged,
		"rubbish\x01, ST,+0000.1278,  g\r\n":          ErrDamaged,
		"LAB-0123 ST,+0000.1278,  g\r\n":              ErrDamaged, // no separator behind the ID
		"12:34:56, 2004/07/01, ST,+0000.1278,  g\r\n": ErrDamaged, // order
	})
	runCuts(t, headerCommaCSV, "ST,+012.0078,  g", "\r\n")
	runCuts(t, headerCommaCSV, "ST;-0000,1278;  g", "\r\n")
	runCuts(t, headerCommaCSV, "LAB-0123, 2004/07/01, 12:34:56, ST,+0000.1278,  g", "\r\n")
}
