package protocol

import (
	"testing"
)

func TestWNPrefix(t *testing.T) {
	runRows(t, wnPrefix, []row{
		{"wn001.171kg\r\n", "1.171", "kg", "", "net", "ok", "captures in public point-of-sale client code"},
		{"wn-00.250kg\r\n", "-0.250", "kg", "", "net", "ok", "built from the layout; XK3190-A12E manual"},
		{"ww001.171kg\r\n", "", "", "", "-", "invalid", "ww is known from memory only"},
		{"wt001.171kg\r\n", "", "", "", "-", "invalid", "wt is known from memory only"},
	})
	runNever(t, wnPrefix,
		"n001.171kg\r\n",
		"wn01.171kg\r\n",
		"wn001.171k\r\n",
		"wn0001.171kg\r\n",
		"wn001171kg\r\n",
		"wn001.171lb\r\n",
		"wn00 .171kg\r\n",
		"wn0001171kg\r\n",
		"WN001.171kg\r\n",
		"wx001.171kg\r\n",
	)
	runDamage(t, wnPrefix, "wn001.171kg\r\n", false)
}
