package protocol

import (
	"testing"
)

func TestSTXWeightCR(t *testing.T) {
	runRows(t, stxWeightCR, []row{
		{"\x02002.35\r", "2.35", "", "", "-", "ok", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections"},
		{"\x0200.480\r", "0.480", "", "", "-", "ok", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections"},
		{"\x02  2.35\r", "2.35", "", "", "-", "ok", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections; blanks for zeros"},
		{"\x0200.480N\r", "0.480", "", "", "net", "ok", "built from the layout; Toledo driver of pywebdriver"},
		{"\x02?a\r", "", "", "", "-", "error", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections; moving"},
		{"\x02?b\r", "", "", "", "-", "overload", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections"},
		{"\x02?d\r", "", "", "", "-", "underload", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections"},
		{"\x02?h\r", "", "", "", "-", "error", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections; zero out of range"},
		{"\x02?\xe1\r", "", "", "", "-", "error", "built from the layout; METTLER TOLEDO 8213 / 8217 protocol sections; moving, with its parity bit"},
	})
	runNever(t, stxWeightCR,
		"002.35\r",
		"\x02002.35",
		"\x0202.35\r",
		"\x020002.35\r",
		"\x02000480\r",
		"\x02002,35\r",
		"\x0200 .35\r",
		"\x02-02.35\r",
		"\x02002.35G\r",
		"\x02?f\r",
		"\x02?!\r",
		"\x02?\r",
		"\x02\r",
		"\x0200.48.\r",
	)
	runDamage(t, stxWeightCR, "\x02002.35\r", false)
	runDamage(t, stxWeightCR, "\x0200.480N\r", false)
}
