package protocol

import (
	"testing"
)

func TestSTXStatusWordLF(t *testing.T) {
	runRows(t, stxStatusWordLF, []row{
		{"\x02,0 001234000000\r\n", "12.34", "kg", "true", "gross", "ok", "built from the layout; T-Scale indicator manual, Con2"},
		{"\x02-; 000085000000\r\n", "-0.085", "kg", "false", "net", "ok", "built from the layout; T-Scale indicator manual, Con2"},
		{"\x02,4 009999000000\r\n", "", "", "", "gross", "overload", "built from the layout; T-Scale indicator manual, Con2"},
	})
	runNever(t, stxStatusWordLF,
		"\x02,0 001234000000\r+",
		"\x02,0 001234000000\r",
		"\x02,0 001234\r\n",
		"\x02,0 0012340000.0\r\n",
		"\x02,\x10 001234000000\r\n",
	)
	runDamage(t, stxStatusWordLF, "\x02,0 001234000000\r\n", false)
}
