package protocol

import (
	"testing"
)

func TestSTXStatusWordShort(t *testing.T) {
	runRows(t, stxStatusWordShort, []row{
		{"\x02,0 001234\r\n", "12.34", "kg", "true", "gross", "ok", "built from the layout; T-Scale indicator manual, Con2"},
		{"\x02-;   0085\r\n", "-0.085", "kg", "false", "net", "ok", "built from the layout; T-Scale indicator manual, Con2; blanks for zeros"},
	})
	runNever(t, stxStatusWordShort,
		"\x02,0 001234000000\r\n",
		"\x02,0 00123\r\n",
		"\x02,0 001234\r",
		"\x02,0 001 34\r\n",
	)
	runDamage(t, stxStatusWordShort, "\x02,0 001234\r\n", false)
}
