package protocol

import (
	"testing"
)

func TestSTXStatusWordSum8(t *testing.T) {
	runRows(t, stxStatusWordSum8, []row{
		{"\x02,0 001234000000\r\xd5", "12.34", "kg", "true", "gross", "ok", "built from the layout; METTLER TOLEDO Wildcat technical manual 6-4, 6-5; plain sum: Rockwell 57C428 App. D"},
	})
	runNever(t, stxStatusWordSum8,
		"\x02,0 001234000000\r+",
		"\x02,0 001234000000\r",
	)
	runDamage(t, stxStatusWordSum8, "\x02,0 001234000000\r\xd5", true)
}
