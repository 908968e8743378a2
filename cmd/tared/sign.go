package main

import "tared/session/signer"

// signUse says what a flag for the sign of the bench takes.
const signUse = "one or two letters that stand on the marks, tiles and lots of this bench, such as KA (default: two letters that its key gives)"

// checkSign understands a sign, where one is given.
func checkSign(sign *string) (err error) {
	if *sign != "" {
		*sign, err = signer.ReadSign(*sign)
	}
	return err
}
