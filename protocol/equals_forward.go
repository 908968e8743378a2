package protocol

// equals-forward: the other menu choice. 0 or -, then seven characters.
//
//	=0003.000     3.000
//	=-0001.00     -1.00
//
// Source: XK3190 indicator family manual.
var equalsForward = &Format{
	Name:    "equals-forward",
	Summary: "=, 0 or -, then seven characters",
	Example: `=0003.000`,
	Split:   splitEquals,
	Parse: func(frame []byte, r *Reading) error {
		if err := checkEquals(frame); err != nil {
			return err
		}
		return equalsWeight([8]byte(frame[1:]), r)
	},
	Lines: equalsLines,
	Pairs: true,
}
