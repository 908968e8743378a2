package protocol

// sign-pad-unit: sign, number, blank, unit, and nothing that tells whether the
// load rests.
//
//	column  1      sign: blank, '-' or '+'
//	        2..9   number, right-aligned
//	        10     blank
//	        11..12 unit, left-aligned
//
//	-  29.182 g
//	    0.665 g
//	 ~~~~~~~~ g    out of range, on a relative
//
// Sources: eamars/OpenTrickler-RP2040-Controller issue 15 (captures of a G&G
// balance, and its interface sheet); Adam "Highland" p. 88 for the relative.
var signPadUnit = &Format{
	Name:      "sign-pad-unit",
	Summary:   "sign, padded number, blank, unit in 12 columns: -  29.182 g",
	Example:   `-  29.182 g \r\n`,
	Split:     splitLine,
	Parse:     parseSignPadUnit,
	OneLength: true,
	Lines: []Line{
		{Baud: 9600, Bits: 8, Parity: 'N', Stop: 1, Source: "G&G interface sheet, by way of OpenTrickler issue 15"},
		{Baud: 600, Bits: 8, Parity: 'N', Stop: 1, Source: "factory setting of a sister family, by way of the same issue"},
	},
	Ask: &Ask{Weight: []byte("\x1bp"), Tare: []byte("\x1bt")},
}

func parseSignPadUnit(b []byte, r *Reading) error {
	if len(b) != 12 || b[9] != ' ' || b[0] != ' ' && b[0] != '-' && b[0] != '+' {
		return foreign("not sign, 8 columns of number, blank and unit")
	}
	u, ok := leftUnit(b[10:])
	if !ok {
		return foreign("no unit in the last two columns")
	}
	return signPadNumber(b[:9], u, r)
}

// signPadNumber reads a sign column and the number behind it.
func signPadNumber(b []byte, u Unit, r *Reading) error {
	tildes := trimBlanks(b[1:])
	for _, c := range tildes {
		if c != '~' {
			tildes = nil
			break
		}
	}
	if len(tildes) > 2 {
		r.Status = Overload
		if b[0] == '-' {
			r.Status = Underload
		}
		return nil
	}
	v, ok := signedNumber(b)
	if !ok {
		return damaged("the number does not end in its last column")
	}
	r.Status, r.Value, r.Unit = OK, v, u
	return nil
}
