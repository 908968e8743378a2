package protocol

// stx-weight-cr: the till poll. The answer to W is a bare weight, or a status
// when there is no steady one.
//
//	STX 002.35 CR        weight, six characters, one of them the point
//	STX 002.35N CR       a tared model adds N
//	STX ? a CR           no weight; one status byte
//
// Status bits: 0 moving, 1 over capacity, 2 under zero, 3 outside the range in
// which zero can be taken, 4 centre of zero, 5 and 6 are 1 (one maker uses 5 for
// net), 7 parity. So 'a' moving, 'b' over, 'd' under.
//
// Sources: METTLER TOLEDO 8213 / 8217 protocol sections; Transcell and Rice
// Lake BenchPro manuals; the Toledo driver of pywebdriver and its PR 125.
//
// No unit is sent, so the user has to say it. A weight without a point is
// refused: one scale sends grams that way while its display shows kilograms
// (pywebdriver PR 125), and read as kilograms it is wrong by a thousand. Some
// scales send a weight once and then only the status until the load changes.
var stxWeightCR = &Format{
	Name:    "stx-weight-cr",
	Summary: "STX, weight of six characters with a point, CR; or STX, ?, status, CR",
	Example: `\x02002.35\r`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitBetween(b, atEOF, stx, '\r') },
	Parse:   parseSTXWeightCR,
	Lines: []Line{
		{9600, 7, 'E', 1, "METTLER TOLEDO 8213 / 8217 protocol sections"},
		{9600, 8, 'N', 1, "from memory"},
	},
	Ask: &Ask{Weight: []byte("W"), Zero: []byte("Z")},
}

func parseSTXWeightCR(frame []byte, r *Reading) error {
	n := len(frame)
	if n == 0 || frame[0] != stx {
		return foreign("it does not open with STX")
	}
	if frame[n-1] != '\r' {
		return damaged("it does not end with CR")
	}
	body := frame[1 : n-1]
	if len(body) == 2 && body[0] == '?' {
		return tillStatus(body[1], r)
	}
	if len(body) == 7 && body[6] == 'N' {
		r.Mode = Net
		body = body[:6]
	}
	switch {
	case len(body) != 6:
		return damaged("the weight does not have six characters")
	case !r.number(number(trimLeft(body))) || r.Value.Places == 0:
		return damaged("the weight is not digits with a point")
	}
	return r.ok()
}

func tillStatus(s byte, r *Reading) error {
	switch {
	case s&0x40 == 0 || s&6 == 6:
		return damaged("impossible status bits")
	case s&6 != 0:
		return r.out(s&4 != 0)
	case s&1 != 0:
		return r.is(Error, "moving: no weight yet")
	case s&8 != 0:
		return r.is(Error, "outside the range in which zero can be taken")
	}
	return r.is(Error, "no steady weight, or it was given before")
}
