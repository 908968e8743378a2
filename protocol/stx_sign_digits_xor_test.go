package protocol

import (
	"testing"
)

func TestSTXSignDigitsXOR(t *testing.T) {
	runRows(t, stxSignDigitsXOR, []row{
		{"\x02+012450019\x03", "12450", "", "", "-", "ok", "XK3190 indicator family manual"},
		{"\x02+00003301B\x03", "33", "", "", "-", "ok", "public capture; XK3190 indicator family manual"},
		{"\x02-00025011B\x03", "-25.0", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual"},
		{"\x02+00123441B\x03", "0.1234", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual; four decimals"},
	})
	runNever(t, stxSignDigitsXOR,
		"+012450019\x03",
		"\x02+012450019",
		"\x02+012450018\x03",
		"\x02+01245001\x03",
		"\x02+0124500190\x03",
		"\x02+00003301b\x03",
		"\x02+00123451A\x03",
		"\x02 012450012\x03",
		"\x02+   33001B\x03",
	)
	runDamage(t, stxSignDigitsXOR, "\x02+012450019\x03", true)
	runDamage(t, stxSignDigitsXOR, "\x02+00003301B\x03", true)
	runDamage(t, stxSignDigitsXOR, "\x02-00025011B\x03", true)
}
