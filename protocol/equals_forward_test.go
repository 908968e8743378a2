package protocol

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestEqualsForward(t *testing.T) {
	runRows(t, equalsForward, []row{
		{"=0003.000", "3.000", "", "", "-", "ok", "XK3190 indicator family manual"},
		{"=-0001.00", "-1.00", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual"},
		{"=0001000.", "1000", "", "", "-", "ok", "built from the layout; XK3190 indicator family manual; no decimals"},
	})
	runNever(t, equalsForward,
		"0003.000",
		"=0003.00",
		"=00003.000",
		"=00003000",
		"=0.03.000",
		"=1003.000",
		"=0-03.000",
		"=0 03.000",
		"=0003,000",
		"=0.00.000",
	)
	runDamage(t, equalsForward, "=0003.000", false)
	runDamage(t, equalsForward, "=-0001.00", false)
}

// A frame alone is not believed: only one that comes twice in a row is.
func TestEqualsWaitsForAPair(t *testing.T) {
	var got []string
	for _, r := range decodeCut(equalsForward, Options{}, []byte("=0003.000=0003.000=0004.000=0003.000=0003.00=0003.000=0003.000")) {
		got = append(got, r.Status.String())
	}
	assert.Equal(t, []string{"invalid", "ok", "invalid", "invalid", "invalid", "invalid", "ok"}, got)
}
