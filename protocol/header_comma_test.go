package protocol

import "testing"

func TestHeaderComma(t *testing.T) {
	const (
		ekl  = "A&D EK-L manual p. 28"
		fxi  = "A&D FX-i manual p. 54"
		thc  = "OpenTHC scale-reader README (capture)"
		test = "test data of public scale drivers"
		rule = "built from the layout in the A&D manuals"
	)
	runRows(t, headerComma, []row{
		{"ST,+00123.45  g\r\n", "123.45", "g", "true", "-", "ok", ekl},
		{"US,-00183.69  g\r\n", "-183.69", "g", "false", "-", "ok", ekl},
		{"ST,+001234.5  g\r\n", "1234.5", "g", "true", "-", "ok", ekl},
		{"ST,+012.7800  g\r\n", "12.7800", "g", "true", "-", "ok", fxi},
		{"ST,+0013.538  g\r\n", "13.538", "g", "true", "-", "ok", thc},
		{"ST,+00000.00 GN\r\n", "0.00", "gn", "true", "-", "ok", test},
		{"ST,+0004775.7   g\r\n", "4775.7", "g", "true", "-", "ok", test},
		{"ST,+00004.700kg\r\n", "4.700", "kg", "true", "-", "ok", test},
		{"QT,+00012345 PC\r\n", "12345", "pcs", "true", "-", "ok", ekl},
		{"ST,-000.0276  g\r\n", "-0.0276", "g", "true", "-", "ok", rule},
		{"ST,+0000.1278  g\r\n", "0.1278", "g", "true", "-", "ok", rule},
		{"ST,+000000.1  t\r\n", "0.1", "tol", "true", "-", "ok", "A&D manuals: '  t' is tola"},
		{"ST,+0012.345ozt\r\n", "12.345", "ozt", "true", "-", "ok", rule},
		{"ST,+0012.345dwt\r\n", "12.345", "dwt", "true", "-", "ok", rule},
		{"ST,+00012.34 ct\r\n", "12.34", "ct", "true", "-", "ok", rule},
		{"ST,+00012.34  %\r\n", "12.34", "%", "true", "-", "ok", rule},
		{"ST,+00123.45  g", "123.45", "g", "true", "-", "ok", "the whole line shows itself whole"},
		{"ST,+00123.45  g\r", "123.45", "g", "true", "-", "ok", "A&D manuals: CR alone can be chosen"},
		{"OL,+9999999E+19\r\n", "", "", "", "-", "overload", ekl},
		{"OL,+999999.9  g\r\n", "", "", "", "-", "overload", ekl},
		{"OL,-9999999E+19\r\n", "", "", "", "-", "underload", "A&D manuals: the sign tells the end"},
		{"OL,-999999.9  g\r\n", "", "", "", "-", "underload", rule},
		{"UL,-999999.9  g\r\n", "", "", "", "-", "underload", test},
		{"TR,+00012.34  g\r\n", "", "", "", "tare", "invalid", test},
		{"EC,E11\r\n", "", "", "", "-", "error", ekl},
		{"EC,E99\r\n", "", "", "", "-", "error", rule},
		{"\x06", "", "", "", "-", "invalid", fxi},
	})
	runRefused(t, headerComma, map[string]error{
		"00123.45  g\r\n":                    ErrForeign, // cut at the front
		"+00123.45  g\r\n":                   ErrForeign,
		"XT,+00123.45  g\r\n":                ErrForeign, // no such header
		"st,+00123.45  g\r\n":                ErrForeign,
		"ST,GS,+011.120kg\r\n":               ErrForeign, // header-comma-mode
		"ST,+012.0078,  g\r\n":               ErrDamaged, // header-comma-csv
		"ST\r\n":                             ErrForeign, // the command
		"TOL,+999999.9  g\r\n":               ErrForeign,
		"CAS PD-II  Ver 1.00\r\n":            ErrForeign,
		"ST,+00123.450 g\r\n":                ErrDamaged, // a blank became a digit
		"QT,+00123.45  g\r\n":                ErrDamaged, // one bit of ST flipped
		"ST,+000123450  g\r\n":               ErrDamaged,
		"ST,+0123.45  g\r\n":                 ErrDamaged, // one digit lost
		"ST,+00123.45 g\r\n":                 ErrDamaged, // one blank lost
		"ST,+00123.45  \r\n":                 ErrDamaged,
		"ST,+00123.45  x\r\n":                ErrDamaged,
		"ST,+00123.45 kx\r\n":                ErrDamaged,
		"ST,+00123.45   \r\n":                ErrDamaged,
		"ST,+00123.45g  \r\n":                ErrDamaged, // the unit is on the right
		"ST,+00.23.45  g\r\n":                ErrDamaged, // two points
		"ST,+00123,45  g\r\n":                ErrDamaged, // not with the comma as separator
		"ST,+00123.4\x005  g\r\n":            ErrDamaged,
		"ST,+00123.4S,+00123.45  g\r\n":      ErrDamaged, // two lines run together
		"ST,+00123.45  gST,+00123.45  g\r\n": ErrDamaged,
		"ST,+  123.45  g\r\n":                ErrDamaged, // zeros, not blanks
		"ST,+-0123.45  g\r\n":                ErrDamaged,
		"ST, 00123.45  g\r\n":                ErrForeign, // no sign
		"ST,+00123.45. g\r\n":                ErrDamaged,
		"ST,+.0123456  g\r\n":                ErrDamaged,
		"ST,+0123456.  g\r\n":                ErrDamaged,
		"OL,+12\r\n":                         ErrDamaged,
		"OL,+999999.9  q\r\n":                ErrDamaged,
		"EC,E1\r\n":                          ErrDamaged,
		"EC,XYZ\r\n":                         ErrDamaged,
		"ST,+00123.45  g\x13\r\n":            ErrDamaged,
		"ST,+001\xb2\xb3.45  g\r\n":          ErrDamaged,
	})
	runCuts(t, headerComma, "ST,+00123.45  g", "\r\n")
	runCuts(t, headerComma, "US,-00183.69  g", "\r\n")
	runCuts(t, headerComma, "ST,+0012.345ozt", "\r\n")
	runCuts(t, headerComma, "ST,+0004775.7   g", "\r\n")
}

func TestHeaderCommaReplyBehindAck(t *testing.T) {
	rs := decodeCut(headerComma, Options{}, []byte("\x06ST,+00123.45  g\r\n\x06\x06US,+00001.00  g\r\n"))
	var got []string
	for _, r := range rs {
		got = append(got, r.Status.String()+" "+r.Value.String())
	}
	assertEqual(t, []string{"invalid 0", "ok 123.45", "invalid 0", "invalid 0", "ok 1.00"}, got)
}
