package protocol

// colon-letter-mass: a send-only line with a letter for what it is.
//
//	: W _ 118.70 kg S _ CR
//	  ^                      W weight, M message
//	    ^                    sign: blank or -
//	      ^^^^^^             number, to the right
//	             ^^          unit
//	                S        S stable, blank moving
//	                  L      L battery low, or blank
//	: M ... OVER ...         too much on the pan
//
// Source: My Weigh "HD" series manual p. 7.
//
// Refused: any other width or letter. Where in its columns the message stands
// was not read, so OVER counts with blanks on either side or none; any other
// message is handed out as not a weight.
var colonLetterMass = &Format{
	Name:    "colon-letter-mass",
	Summary: ":, W or M, sign, number 6, unit 2, S when stable, L when the battery is low, CR",
	Example: `:W 118.70kgS \r`,
	Split:   func(b []byte, atEOF bool) (int, []byte) { return splitStarted(b, atEOF, ':') },
	Parse:   parseColonLetterMass,
	Lines:   []Line{{9600, 8, 'N', 1, `My Weigh "HD" series manual p. 7`}},
}

func parseColonLetterMass(frame []byte, r *Reading) error {
	switch n := len(frame); {
	case n < 2 || frame[0] != ':' || frame[1] != 'W' && frame[1] != 'M':
		return foreign("it does not open with :W or :M")
	case !printable(frame) || n > 13 || n < 13 && frame[1] != 'M':
		return damaged("it does not have 13 characters before CR")
	case frame[1] == 'M':
		text := frame[2:]
		if n == 13 && frame[12] == 'L' {
			text = frame[2:12]
		}
		if string(trimBlanks(text)) == "OVER" {
			return r.is(Overload, "")
		}
		return r.is(Invalid, "a message, not a weight")
	case frame[12] != ' ' && frame[12] != 'L':
		return damaged("the last letter is not L or blank")
	case !r.rest(frame[11], 'S', ' '):
		return damaged("the last letter but one is not S or blank")
	case !r.number(signedNumber(frame[2:9])) || !r.unit(frame[9:11]) || frame[2] == '+':
		return damaged("weight or unit is not readable")
	}
	return r.ok()
}
