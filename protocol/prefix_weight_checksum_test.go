package protocol

import (
	"testing"
)

func TestPrefixWeightChecksum(t *testing.T) {
	runRows(t, prefixWeightChecksum, []row{
		{"WG004.139kg3D\r\n", "4.139", "kg", "", "gross", "ok", "XK3190-A12E manual"},
		{"WN-01.500kg22\r\n", "-1.500", "kg", "", "net", "ok", "built from the layout; XK3190-A12E manual"},
		{"WG 004139kg33\r\n", "4139", "kg", "", "gross", "ok", "built from the layout; XK3190-A12E manual; no point, one blank"},
		{"         OL23\r\n", "", "", "", "-", "overload", "XK3190-A12E manual"},
		{"         LO23\r\n", "", "", "", "-", "underload", "built from the layout; XK3190-A12E manual"},
	})
	runNever(t, prefixWeightChecksum,
		"WG004.138kg3D\r\n",
		"WG004.139kg3d\r\n",
		"WG004.139kg3\r\n",
		"G004.139kg3D\r\n",
		"WG04.139kg0D\r\n",
		"WN004.139kg3D\r\n",
		"         OL24\r\n",
		"        OL23\r\n",
		"WG0004139kg13\r\n",
		"WG 04.139kg2D\r\n",
		"WG004.139lb33\r\n",
	)
	runDamage(t, prefixWeightChecksum, "WG004.139kg3D\r\n", true)
	runDamage(t, prefixWeightChecksum, "WN-01.500kg22\r\n", true)
}
