package protocol

// What the columns of a frame say of a reading. Those that report a bool give false
// where something else stands there.

// is ends a frame that says how the instrument is, and holds no weight.
func (r *Reading) is(s Status, why string) error {
	r.Status, r.Why = s, why
	return nil
}

// out ends a frame that is out of range, at the low end where it shows a minus.
func (r *Reading) out(minus bool) error {
	if minus {
		return r.is(Underload, "")
	}
	return r.is(Overload, "")
}

// ok ends a frame whose weight was read.
func (r *Reading) ok() error { return r.is(OK, "") }

// number takes what one of the readers of numbers gives.
func (r *Reading) number(d Decimal, ok bool) bool {
	r.Value = d
	return ok
}

// unit takes letters with blanks on either side.
func (r *Reading) unit(b []byte) (ok bool) {
	r.Unit, ok = unitWord(trimBlanks(b))
	return ok
}

// unitLeft takes letters to the left.
func (r *Reading) unitLeft(b []byte) (ok bool) {
	r.Unit, ok = leftUnit(b)
	return ok
}

// unitRight takes letters to the right.
func (r *Reading) unitRight(b []byte) (ok bool) {
	r.Unit, ok = rightUnit(b)
	return ok
}

// unitAtRest takes a unit to the left that is blank while the weight moves.
func (r *Reading) unitAtRest(b []byte) bool {
	if r.Stable = No; allOf(b, ' ') {
		return true
	}
	r.Stable = Yes
	return r.unitLeft(b)
}

// rest takes the letter that says whether the load rests.
func (r *Reading) rest(c, stable, moving byte) bool {
	switch c {
	case stable:
		r.Stable = Yes
	case moving:
		r.Stable = No
	default:
		return false
	}
	return true
}

// mode takes the letter that says gross or net.
func (r *Reading) mode(c, gross, net byte) bool {
	switch c {
	case gross:
		r.Mode = Gross
	case net:
		r.Mode = Net
	default:
		return false
	}
	return true
}
