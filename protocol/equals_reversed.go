package protocol

// equals-reversed: one of two menu choices of the same indicators. Seven characters,
// least significant first, then 0 or -.
//
//	=000.3000     3.000
//	=00.1000-     -1.00
//
// Source: XK3190 indicator family manual.
var equalsReversed = &Format{
	Name:    "equals-reversed",
	Summary: "=, seven characters from the last digit to the first, then 0 or -",
	Example: `=000.3000`,
	Split:   splitEquals,
	Parse: func(frame []byte, r *Reading) error {
		if err := checkEquals(frame); err != nil {
			return err
		}
		var b [8]byte
		for i := range b {
			b[i] = frame[8-i]
		}
		return equalsWeight(b, r)
	},
	Lines: equalsLines,
	Pairs: true,
}
