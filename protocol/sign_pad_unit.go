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
	Summary:   "sign, padded number, blank, unit in 12 columns",
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
	switch {
	case len(b) != 12 || !isSign(b[0]) || b[9] != ' ':
		return foreign("not sign, 8 columns of number, blank and unit")
	case !r.unitLeft(b[10:]):
		return foreign("no unit in the last two columns")
	}
	return signPadNumber(b[0], b[1:9], r)
}

// signPadNumber reads the number behind a sign column.
func signPadNumber(sign byte, b []byte, r *Reading) error {
	switch tildes := trimBlanks(b); {
	case len(tildes) > 2 && allOf(tildes, '~'):
		return r.out(sign == '-')
	case !r.number(signedDigits(sign == '-', b)):
		return damaged("the number does not end in its last column")
	}
	return r.ok()
}
