package main

import "tared/session/signer"

// checkSign understands a sign, where one is given.
func checkSign(sign *string) (err error) {
	if *sign != "" {
		*sign, err = signer.ReadSign(*sign)
	}
	return err
}
