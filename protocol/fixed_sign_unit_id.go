package protocol

// fixed-sign-unit-id: fixed-sign-unit with six columns in front that say what
// the number is.
//
//	column  1..6   N net, G gross, Qnt count, T1 and T2 tare memories, nRef
//	               reference, Stat for states and faults
//	        7..20  as columns 1..14 of fixed-sign-unit
//
//	N     +   123.56 g
//	Qnt   +      253 pcs
//	Stat        High
//	Stat       OFF        a balance that is plugged in but switched off
//
// Only N, G and Qnt are what lies on the pan.
//
// Sources: the manuals named at fixed-sign-unit; numat/sartorius
// tests/test_driver.py (its driver notes the OFF line).
var fixedSignUnitID = &Format{
	Name:      "fixed-sign-unit-id",
	Summary:   "fixed-sign-unit behind six columns that say net, gross or count",
	Example:   `N     +   123.56 g  \r\n`,
	Split:     splitLine,
	Parse:     parseFixedSignUnitID,
	OneLength: true,
	Lines:     fixedSignUnitLines,
	Ask:       fixedSignUnitAsk,
}

func parseFixedSignUnitID(b []byte, r *Reading) error {
	if len(b) < 7 {
		return foreign("no identification and weight")
	}
	id, rest := b[:6], b[6:]
	switch string(id) {
	case "N     ":
		r.Mode = Net
	case "G     ":
		r.Mode = Gross
	case "Qnt   ":
	case "T1    ", "T2    ", "T     ", "nRef  ":
		if err := fixedSignUnitWeight(rest, r); err != nil {
			return damaged("a tare or reference that cannot be read")
		}
		*r = Reading{Why: "this is a tare or a reference, not the load"}
		if id[0] == 'T' {
			r.Mode = Tare
		}
		return nil
	case "Stat  ":
		if string(trimBlanks(rest)) == "OFF" {
			return r.is(Error, "the instrument is switched off")
		}
		if !fixedSignUnitWord(rest, r) {
			return damaged("unknown state")
		}
		return nil
	default:
		return foreign("no known identification")
	}
	if rest[0] != '+' && rest[0] != '-' && rest[0] != ' ' {
		return damaged("no sign column")
	}
	if fixedSignUnitWord(rest, r) {
		return nil
	}
	if err := fixedSignUnitWeight(rest, r); err != nil {
		return damaged(why(err))
	}
	if id[0] == 'Q' {
		// A count that moves shows no unit. It must not pass for a weight whose unit
		// the user was asked to say.
		if r.Unit != UnitPieces && r.Unit != UnitNone {
			return damaged("a count in a unit of mass")
		}
		r.Unit = UnitPieces
	}
	return nil
}
