package protocol

// stx-sign-mode-etx: a stream with one letter that is mode and status at once,
// or with four letters and a unit.
//
//	STX _ ___8.20 G ETX             short
//	STX _ ___8.20 G _ _ _ kg_ ETX   long
//	    ^                             sign: blank, + or -
//	      ^^^^^^^                     weight, to the right
//	              ^                   G gross or N net and steady, M moving, O over, U under, E fault
//	                ^ ^ ^             long only: more status letters
//	                      ^^^         long only: unit, blank while moving
//
// Source: Rinstrum indicator manuals.
//
// What the second to fourth letter of the long frame mean was not read, so
// blanks, digits, Z and M alone pass, and M must agree with a blank unit. The
// short frame has no unit; the user has to say it.
var stxSignModeETX = &Format{
	Name:    "stx-sign-mode-etx",
	Summary: "STX, sign, weight 7, one letter for mode and status, ETX; or four letters and a unit",
	Example: `\x02    8.20G\x03`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitBetween(b, atEOF, stx, etx) },
	Parse:   parseSTXSignModeETX,
	Lines:   []Line{{9600, 8, 'N', 1, "from memory"}},
}

func parseSTXSignModeETX(frame []byte, r *Reading) error {
	n := len(frame)
	if n == 0 || frame[0] != stx {
		return foreign("it does not open with STX")
	}
	if n != 11 && n != 17 || frame[n-1] != etx {
		return damaged("it does not end with ETX after 10 or 16 characters")
	}
	switch frame[9] {
	case 'G':
		r.Mode, r.Stable = Gross, Yes
	case 'N':
		r.Mode, r.Stable = Net, Yes
	case 'M':
		r.Stable = No
	case 'O':
		return r.is(Overload, "")
	case 'U':
		return r.is(Underload, "")
	case 'E':
		return r.is(Error, "the instrument reports a fault")
	default:
		return damaged("the status letter is not known")
	}
	if n == 17 {
		if err := signModeLong(frame[10:13], frame[13:16], r); err != nil {
			return err
		}
	}
	if !r.number(signedNumber(frame[1:9])) {
		return damaged("the weight is not digits with a point")
	}
	return r.ok()
}

func signModeLong(more, unit []byte, r *Reading) error {
	moving := r.Stable == No
	for _, c := range more {
		moving = moving || c == 'M'
		if c != 'M' && c != ' ' && c != 'Z' && !isDigit(c) {
			return damaged("a status letter is not known")
		}
	}
	switch {
	case allOf(unit, ' '):
		r.Stable = No
	case !r.unit(unit):
		return damaged("the unit is not known")
	case moving:
		return damaged("a unit is shown although it moves")
	}
	return nil
}
