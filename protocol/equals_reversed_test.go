package protocol

import (
	"testing"
)

func TestEqualsReversed(t *testing.T) {
	runRows(t, equalsReversed, []row{
		{"=000.3000", "3.000", "", "", "-", "ok", "XK3190 indicator family manual"},
		{"=00.1000-", "-1.00", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual"},
		{"=00.05000", "50.00", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual"},
		{"=.0001000", "1000", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual; no decimals"},
		{"=000.3000\r\n", "3.000", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual; a line end that a tool added"},
	})
	runNever(t, equalsReversed,
		"000.3000",
		"=000.300",
		"=000.30000",
		"=00003000",
		"=0.0.3000",
		"=000.300-0",
		"=000.3001",
		"=000 3000",
		"=000.3-00",
		"=-00.3000",
		"=000,3000",
		"=000.300=",
		"=0000300.",
	)
	runDamage(t, equalsReversed, "=000.3000", false)
	runDamage(t, equalsReversed, "=00.1000-", false)
}
