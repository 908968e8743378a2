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
		r.Status = Overload
		return nil
	case 'U':
		r.Status = Underload
		return nil
	case 'E':
		r.Status, r.Why = Error, "the instrument reports a fault"
		return nil
	default:
		return damaged("the status letter is not known")
	}
	if n == 17 {
		if err := signModeLong(frame[10:13], frame[13:16], r); err != nil {
			return err
		}
	}
	var ok bool
	if r.Value, ok = signedNumber(frame[1:9]); !ok {
		return damaged("the weight is not digits with a point")
	}
	r.Status = OK
	return nil
}

func signModeLong(more, unit []byte, r *Reading) error {
	moving := false
	for _, c := range more {
		switch {
		case c == 'M':
			moving = true
		case c != ' ' && c != 'Z' && !isDigit(c):
			return damaged("a status letter is not known")
		}
	}
	if allOf(unit, ' ') {
		r.Stable = No
		return nil
	}
	var ok bool
	if r.Unit, ok = unitWord(trimBlanks(unit)); !ok {
		return damaged("the unit is not known")
	}
	if moving || r.Stable == No {
		return damaged("a unit is shown although it moves")
	}
	return nil
}
