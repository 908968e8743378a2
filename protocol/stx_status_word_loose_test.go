package protocol

import (
	"testing"
)

func TestSTXStatusWordLoose(t *testing.T) {
	runRows(t, stxStatusWordLoose, []row{
		{"\x02,pp001234000000\r\x1b", "12.34", "kg", "true", "gross", "ok", "built from the layout; constant bits 4 and 6 set"},
		{"\x02lp 001234000000\r", "12.34", "kg", "true", "gross", "ok", "built from the layout; constant bit 6 of A and B set"},
	})
	runNever(t, stxStatusWordLoose,
		"\x02,pp001234000000\r\x1c",
		"\x02\xac0 001234000000\r",
	)
}
